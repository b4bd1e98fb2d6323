"""Tolerances of Pt100 and type K sensors against the published figures."""

import pytest

from logger.config.rig_file import rig_of
from logger.domain.sensor_class import SensorClass, standard_uncertainty_degC, tolerance_degC
from logger.errors import InputError


@pytest.mark.parametrize(
    ("sensor_class", "at", "tolerance"),
    [
        # Printed: class B at 200 degC +/-1.3 K, class A +/-0.55 K (IEC 60751).
        ("Pt100-B", 200, 1.3),
        ("Pt100-A", 200, 0.55),
        # Worked from the printed formulas at 220 degC.
        ("Pt100-AA", 220, 0.474),
        ("Pt100-A", 220, 0.59),
        ("Pt100-B", 220, 1.40),
        ("Pt100-C", 220, 2.80),
        ("Pt100-B", -50, 0.55),
        # IEC 60584 type K: the larger of the constant and the share; printed knees 375 and 333 degC.
        ("K-1", 220, 1.5),
        ("K-1", 375, 1.5),
        ("K-1", 500, 2.0),
        ("K-2", 220, 2.5),
        ("K-2", 333, 2.5),
        ("K-2", 400, 3.0),
        ("K-3", -100, 2.5),
        ("K-3", -200, 3.0),
    ],
)
def test_tolerance(sensor_class: str, at: float, tolerance: float) -> None:
    assert tolerance_degC(SensorClass(sensor_class), at) == pytest.approx(tolerance, abs=0.003)


def test_a_class_ends_where_it_ends() -> None:
    with pytest.raises(ValueError, match="class K-3 runs from -200 to 40 degC"):
        tolerance_degC(SensorClass.K_3, 220)


TEXT = """\
name = "r"
[bus.b]
kind = "modbus-tcp"
host = "192.0.2.1"
[channel.pressure]
bus = "b"
unit_id = 1
table = "input"
address = 0
type = "int16"
gain = "0.1 bar"
[channel.plate_temperature]
bus = "b"
unit_id = 1
table = "input"
address = 1
type = "int16"
gain = "0.1 degC"
"""


def test_a_class_in_the_rig_file_gives_the_uncertainty_at_plate_temperature() -> None:
    text = TEXT + '[channel.plate_temperature.sensor]\ntolerance_class = "Pt100-B"\n'
    u = rig_of(text).bindings[1].channel.standard_uncertainty
    assert u == pytest.approx(1.4 / 3**0.5)
    assert u == standard_uncertainty_degC(SensorClass.PT100_B, 220)


def test_a_declared_uncertainty_governs_over_the_class() -> None:
    text = TEXT + 'uncertainty = "0.7 degC"\n[channel.plate_temperature.sensor]\ntolerance_class = "K-2"\n'
    assert rig_of(text).bindings[1].channel.standard_uncertainty == 0.7


@pytest.mark.parametrize(
    ("addition", "line"),
    [
        (
            '[channel.plate_temperature.sensor]\ntolerance_class = "K-3"\n',
            "r.toml:20: [channel.plate_temperature.sensor] tolerance_class: "
            "class K-3 runs from -200 to 40 degC; the plate is at 220 degC",
        ),
        (
            '[channel.pressure.sensor]\ntolerance_class = "K-2"\n',
            "r.toml:20: [channel.pressure.sensor] tolerance_class: "
            "is of a temperature sensor, not of pressure",
        ),
    ],
)
def test_a_class_that_cannot_be(addition: str, line: str) -> None:
    with pytest.raises(InputError) as wrong:
        rig_of(TEXT + addition, "r.toml")
    assert str(wrong.value) == line


def test_a_class_is_refused_of_a_pressure_even_where_its_uncertainty_is_declared() -> None:
    text = TEXT.replace("[channel.pressure]\n", '[channel.pressure]\nuncertainty = "0.4 bar"\n')
    with pytest.raises(InputError, match="tolerance_class: is of a temperature sensor, not of pressure"):
        rig_of(text + '[channel.pressure.sensor]\ntolerance_class = "K-2"\n')
