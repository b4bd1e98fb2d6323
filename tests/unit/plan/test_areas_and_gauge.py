"""Areas and gauge pressures against published examples and hand calculation."""

import math

import pytest

from logger.config.procedures import load_procedure
from logger.domain.geometry import pipe_area_mm2, piston_area_mm2
from logger.domain.phase import Phase
from logger.plan.compute import compute_plan
from tests.unit.plan.joints import joint, pipe

# A pipe maker's guide (slideshare 31841491) works with pi = 3.142; the areas scale with pi alone.
PI_OF_THE_GUIDE = 3.142 / math.pi


@pytest.mark.parametrize(("dn", "wall", "printed_mm2"), [(315, 15.0, 14139.00), (400, 19.1, 22858.64)])
def test_pipe_area_of_the_guide(dn: float, wall: float, printed_mm2: float) -> None:
    assert pipe_area_mm2(dn, wall) * PI_OF_THE_GUIDE == pytest.approx(printed_mm2, abs=0.01)


@pytest.mark.parametrize(("bore", "rod", "printed_mm2"), [(40, 30, 1099.70), (50, 40, 1413.90)])
def test_piston_area_of_the_guide(bore: float, rod: float, printed_mm2: float) -> None:
    assert piston_area_mm2(bore, rod, 2) * PI_OF_THE_GUIDE == pytest.approx(printed_mm2, abs=0.01)


@pytest.mark.parametrize(
    ("dn", "wall", "area", "drag", "gauge_bar"),
    [
        (110, 10.0, 1413.72, 8, 11.33),
        (160, 14.6, 1413.72, 10, 17.08),
        (315, 28.6, 2000, 12, 31.30),
        (630, 57.2, 5600, 20, 47.57),
    ],
)
def test_gauge_pressure_worked_by_hand(
    dn: float, wall: float, area: float, drag: float, gauge_bar: float
) -> None:
    """0.15 N/mm2 on the gauge, worked by hand to 0.01 bar from 10 p pi e (dn - e) / Ac + drag."""
    plan = compute_plan(
        joint(pipe(dn=dn, wall=wall), area=area, drag=drag), load_procedure("dvs-2207-1:2005")
    )
    assert plan.step_of(Phase.COOLING).gauge_pressure_bar.target == pytest.approx(gauge_bar, abs=0.005)


def test_edges_of_the_joining_band_and_of_the_soak_limit() -> None:
    """dn 110, e 10, Ac 1413.72: 0.01 N/mm2 is 0.222 bar on the gauge."""
    plan = compute_plan(
        joint(pipe(dn=110, wall=10.0), area=1413.72, drag=8.0), load_procedure("dvs-2207-1:2015")
    )
    cooling = plan.step_of(Phase.COOLING).gauge_pressure_bar
    assert cooling.min == pytest.approx(11.333 - 0.222, abs=0.001)
    assert cooling.max == pytest.approx(11.333 + 0.222, abs=0.001)
    soak = plan.step_of(Phase.HEAT_SOAK).gauge_pressure_bar
    assert (soak.min, soak.target) == (None, None)
    assert soak.max == pytest.approx(8.222, abs=0.001)
    assert plan.joining_force_N == pytest.approx(0.15 * math.pi * 10 * 100)


@pytest.mark.parametrize(("drag", "area"), [(None, 629.0), (12.0, None), (None, None)])
def test_no_gauge_pressure_without_drag_or_piston_area(drag: float | None, area: float | None) -> None:
    plan = compute_plan(joint(drag=drag, area=area), load_procedure("dvs-2207-1:2015"))
    assert not any(step.gauge_pressure_bar.is_given for step in plan.steps)
    assert plan.step_of(Phase.COOLING).interface_pressure_MPa.target == 0.15


def test_drag_of_zero_is_a_drag() -> None:
    plan = compute_plan(joint(drag=0.0), load_procedure("dvs-2207-1:2015"))
    gauge = plan.step_of(Phase.COOLING).gauge_pressure_bar
    assert gauge.target == pytest.approx(10 * 0.15 * plan.pipe_area_mm2 / 629.0)
