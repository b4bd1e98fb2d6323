"""Output units against their definitions, and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.config.quantity import convert
from logger.wording.units import INCH, METRIC, LengthUnit, PressureUnit, TemperatureUnit, Units


def test_published_equivalents() -> None:
    """1 bar = 14.5038 psi; 0.15 N/mm2 = 21.76 psi; 25.4 mm = 1 in; 220 degC = 428 degF."""
    assert INCH.gauge_of(1.0) == pytest.approx(14.5038, abs=0.0001)
    assert INCH.interface_of(0.15) == pytest.approx(21.76, abs=0.005)
    assert INCH.length_of(25.4) == pytest.approx(1.0)
    assert INCH.area_of(25.4**2) == pytest.approx(1.0)
    assert INCH.temperature_of(220.0) == pytest.approx(428.0)
    assert Units(pressure=PressureUnit.MPA).gauge_of(12.0) == pytest.approx(1.2)


@given(value=st.floats(-50, 500))
def test_agrees_with_the_units_library(value: float) -> None:
    assert INCH.gauge_of(value) == pytest.approx(convert(value, "bar", "psi"), abs=1e-6)
    assert INCH.length_of(value) == pytest.approx(convert(value, "mm", "in"), abs=1e-9)
    assert INCH.temperature_of(value) == pytest.approx(convert(value, "degC", "degF"), abs=1e-9)
    assert convert(INCH.gauge_of(value), "psi", "bar") == pytest.approx(value, abs=1e-6)


def test_metric_changes_nothing() -> None:
    assert Units(pressure=PressureUnit.BAR, length=LengthUnit.MM, temperature=TemperatureUnit.DEGC) == METRIC
    assert (METRIC.gauge_of(12.3), METRIC.length_of(16.4), METRIC.temperature_of(220.0)) == (
        12.3,
        16.4,
        220.0,
    )
    assert METRIC.interface_of(0.15) == 0.15
