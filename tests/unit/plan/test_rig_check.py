"""What a rig adds to a plan: relief, span and drag remarks, and which limits its sensors can decide."""

import math

import pytest

from logger.config.procedures import load_procedure
from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.decidable import DecidableLimit, LimitQuantity
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.rig import Rig
from logger.plan.compute import compute_plan
from logger.plan.decidable import decidable_limits
from logger.plan.rig_check import with_rig_remarks
from logger.wording.decidable_text import decidable_lines
from tests.unit.plan.joints import joint, pipe


def plan_of(*, dn: float = 110.0, wall: float = 10.0, drag: float = 8.0, area: float = 1413.72) -> JointPlan:
    return compute_plan(
        joint(pipe(dn=dn, wall=wall), drag=drag, area=area), load_procedure("dvs-2207-1:2015")
    )


def codes(plan: JointPlan, rig: Rig) -> set[str]:
    return {remark.code for remark in with_rig_remarks(plan, rig).remarks} - {r.code for r in plan.remarks}


def test_a_rig_that_fits_adds_nothing() -> None:
    """dn 110, e 10 on 1413.72 mm2: 3.33 bar of fusion pressure; 1 bar of drag is less than half of it."""
    rig = Rig(name="r", relief_pressure_bar=100.0, gauge_span_bar=20.0)
    assert codes(plan_of(drag=1.0), rig) == set()


def test_drag_of_8_bar_rules_a_fusion_pressure_of_3_bar() -> None:
    rig = Rig(name="r")
    assert codes(plan_of(drag=8.0), rig) == {"remark.under_twice_drag", "remark.drag_high"}
    assert codes(plan_of(drag=2.0), rig) == {"remark.drag_high"}


@pytest.mark.parametrize(("span", "warned"), [(20.0, False), (25.0, True)])
def test_under_a_fifth_of_the_gauges_span(span: float, warned: bool) -> None:
    """Joining at 4.33 bar with 1 bar of drag: a fifth of 21.7 bar."""
    found = codes(plan_of(drag=1.0), Rig(name="r", gauge_span_bar=span))
    assert ("remark.under_fifth_of_span" in found) is warned


@pytest.mark.parametrize(("relief", "warned"), [(4.6, False), (4.5, True)])
def test_above_the_relief_setting(relief: float, warned: bool) -> None:
    """The upper edge of joining, 0.16 N/mm2 with 1 bar of drag, is 4.555 bar."""
    found = codes(plan_of(drag=1.0), Rig(name="r", relief_pressure_bar=relief))
    assert ("remark.above_relief" in found) is warned


def rig_with(u_bar: float | None, rate_hz: float = 10.0) -> Rig:
    channels = (
        Channel(quantity=Quantity.PRESSURE, scaling=Scaling(), rate_hz=rate_hz, standard_uncertainty=u_bar),
        Channel(quantity=Quantity.PLATE_TEMPERATURE, scaling=Scaling(), standard_uncertainty=1.5),
    )
    return Rig(name="r", channels=channels)


def limit_of(plan: JointPlan, rig: Rig, phase: Phase | None, quantity: LimitQuantity) -> DecidableLimit:
    (found,) = [
        limit for limit in decidable_limits(plan, rig) if limit.phase is phase and limit.quantity is quantity
    ]
    return found


@pytest.mark.parametrize(("u_bar", "decided"), [(0.13, True), (0.14, False), (None, None)])
def test_joining_band_of_a_small_pipe(u_bar: float | None, decided: bool | None) -> None:
    """0.01 N/mm2 is 0.2222 bar for dn 110 SDR 11 on 1413.72 mm2; the guard band is 1.645 u."""
    limit = limit_of(plan_of(), rig_with(u_bar), Phase.COOLING, LimitQuantity.PRESSURE)
    assert limit.room == pytest.approx(0.2222, abs=0.0001)
    assert limit.is_decided is decided


def test_the_smallest_pipe_is_the_one_whose_room_is_the_guard_band() -> None:
    rig = rig_with(0.5)
    small = limit_of(plan_of(), rig, Phase.COOLING, LimitQuantity.PRESSURE)
    dn = small.smallest_diameter_mm
    assert dn is not None
    assert dn > 110
    at = limit_of(plan_of(dn=dn, wall=dn / 11), rig, Phase.COOLING, LimitQuantity.PRESSURE)
    assert at.room == pytest.approx(at.guard)
    above = limit_of(plan_of(dn=1.01 * dn, wall=1.01 * dn / 11), rig, Phase.COOLING, LimitQuantity.PRESSURE)
    assert above.is_decided


def test_times_and_plate() -> None:
    plan, rig = plan_of(), rig_with(0.5, rate_hz=10.0)
    changeover = limit_of(plan, rig, Phase.CHANGEOVER, LimitQuantity.DURATION)
    assert changeover.guard == pytest.approx(1.645 * 0.1 / math.sqrt(6))
    assert changeover.is_decided
    plate = limit_of(plan, rig, None, LimitQuantity.PLATE_TEMPERATURE)
    assert (plate.room, plate.guard) == (10.0, pytest.approx(1.645 * 1.5))


def test_in_words() -> None:
    lines = decidable_lines(decidable_limits(plan_of(), rig_with(0.5)))
    assert "  plate temperature           can be decided: room 10 degC, guard band 2.47 degC" in lines
    cooling = next(line for line in lines if line.strip().startswith("cooling pressure"))
    assert "CANNOT be decided: room 0.222 bar, guard band 0.823 bar; from dn 212 mm on" in cooling
    undeclared = decidable_lines(decidable_limits(plan_of(), rig_with(None)))
    assert any("no uncertainty of the sensor is declared" in line for line in undeclared)
