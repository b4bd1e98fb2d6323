"""Measures of whole steps, against what was drawn."""

from dataclasses import replace

import pytest

from logger.domain.measures import Measures, StepMeasures
from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.judge.judge import judge
from tests.drawn import DRAG_BAR, JOINING_BAR, draw_joint
from tests.unit.judge.plans import JOINING, around, plan_of

DRAWN = draw_joint()
SAMPLES = DRAWN.samples()
PLAN = plan_of()
TOUCH_S = DRAWN.truth[Phase.PRESSURE_BUILD_UP][0]
COOLING_S = DRAWN.truth[Phase.COOLING][0]
MPA_PER_BAR = 629.0 / 8429.0 / 10.0


def measured(samples: list[Sample], plan=PLAN) -> Measures:
    measures = judge(samples, joint="D-1", plan=plan).measures
    assert measures is not None
    return measures


def step_of(measures: Measures, phase: Phase, number: int | None = None) -> StepMeasures:
    (step,) = (step for step in measures.steps if (step.phase, step.step) == (phase, number))
    return step


def changed(from_s: float, to_s: float, by_bar: float) -> list[Sample]:
    return [
        replace(s, pressure_bar=(s.pressure_bar or 0.0) + by_bar) if from_s < s.t_s < to_s else s
        for s in SAMPLES
    ]


def test_each_step_with_a_pressure_is_measured_once_in_order():
    phases = [step.phase for step in measured(SAMPLES).steps]
    assert phases == [Phase.BEAD_UP, Phase.HEAT_SOAK, Phase.PRESSURE_BUILD_UP, Phase.COOLING]


def test_gauge_and_interface_pressure_of_a_steady_cooling():
    cooling = step_of(measured(SAMPLES), Phase.COOLING)
    assert cooling.gauge_bar.mean == pytest.approx(JOINING_BAR, abs=0.01)
    assert cooling.gauge_bar.greatest == pytest.approx(JOINING_BAR, abs=0.1)
    assert JOINING.min is not None
    assert JOINING.min < cooling.gauge_bar.least < JOINING_BAR, "the ramp enters the band before it ends"
    assert cooling.interface_MPa is not None
    assert cooling.interface_MPa.mean == pytest.approx((JOINING_BAR - DRAG_BAR) * MPA_PER_BAR, abs=2e-4)
    assert cooling.friction_MPa == pytest.approx(DRAG_BAR * MPA_PER_BAR, abs=1e-5)
    assert 0.0 < cooling.mean_u_bar < 0.01
    assert (cooling.in_band_share, cooling.longest_excursion_s, cooling.area_outside_bar_s) == (1.0, 0.0, 0.0)
    assert cooling.excursions == ()


def test_a_soak_below_drag_has_a_negative_interface_pressure_that_is_not_clamped():
    soak = step_of(measured(SAMPLES), Phase.HEAT_SOAK)
    assert soak.interface_MPa is not None
    assert soak.interface_MPa.mean == pytest.approx((1.0 - DRAG_BAR) * MPA_PER_BAR, abs=1e-3)


def test_without_drag_or_areas_there_is_no_interface_pressure():
    steps = tuple(replace(step, dwell_s=0.0) for step in PLAN.steps)
    bare = replace(PLAN, drag_pressure_bar=None, piston_area_mm2=None, steps=steps)
    cooling = step_of(measured(SAMPLES, bare), Phase.COOLING)
    assert (cooling.interface_MPa, cooling.friction_MPa) == (None, None)


def test_an_excursion_is_told_with_its_length_area_and_time_since_contact():
    """Twenty seconds 3 bar above the target: 1.5 bar above the band."""
    cooling = step_of(measured(changed(TOUCH_S + 100.0, TOUCH_S + 120.0, 3.0)), Phase.COOLING)
    (excursion,) = cooling.excursions
    assert excursion.since_contact_s == pytest.approx(100.0, abs=0.7)
    assert excursion.extreme_bar == pytest.approx(JOINING_BAR + 3.0, abs=0.1)
    assert excursion.limit_bar == JOINING.max
    assert cooling.longest_excursion_s == pytest.approx(20.0, abs=1.0)
    assert cooling.area_outside_bar_s == pytest.approx(20.0 * 1.5, rel=0.05)
    seconds = cooling.end_s - cooling.start_s
    assert cooling.in_band_share == pytest.approx(1.0 - 20.0 / seconds, abs=0.005)


def test_an_excursion_before_contact_has_no_time_since_contact():
    bead_up_s = DRAWN.truth[Phase.BEAD_UP][0]
    bead_up = step_of(measured(changed(bead_up_s + 10.0, bead_up_s + 15.0, 4.0)), Phase.BEAD_UP)
    assert [excursion.since_contact_s for excursion in bead_up.excursions] == [None]


def test_a_gap_adds_no_area():
    high = changed(TOUCH_S + 100.0, TOUCH_S + 120.0, 3.0)
    holed = [s for s in high if not TOUCH_S + 105.0 < s.t_s < TOUCH_S + 115.0]
    cooling = step_of(measured(holed), Phase.COOLING)
    assert cooling.area_outside_bar_s == pytest.approx(10.0 * 1.5, rel=0.1)


@pytest.mark.parametrize("by_bar", [2.0, 4.0])
def test_overshoot_is_counted_from_the_joining_target(by_bar):
    measures = measured(changed(COOLING_S + 0.2, COOLING_S + 2.2, by_bar))
    overshoot_bar = step_of(measures, Phase.PRESSURE_BUILD_UP).overshoot_bar
    assert overshoot_bar == pytest.approx(by_bar, abs=0.3)


@pytest.mark.parametrize(("rate_bar_per_min", "every_s"), [(0.6, 1e9), (1.2, 60.0), (0.0, 1e9)])
def test_leak_down_and_top_ups(rate_bar_per_min, every_s):
    """A saw: falling at a rate, pumped up again at once each so many seconds."""
    start_s = COOLING_S + 5.0
    sawed = [
        replace(
            s, pressure_bar=(s.pressure_bar or 0.0) - rate_bar_per_min / 60.0 * ((s.t_s - start_s) % every_s)
        )
        if start_s < s.t_s < start_s + 280.0
        else s
        for s in SAMPLES
    ]
    cooling = step_of(measured(sawed), Phase.COOLING)
    assert cooling.leak_down_bar_per_min == pytest.approx(rate_bar_per_min, abs=0.08)
    assert cooling.top_ups == (4 if every_s == 60.0 else 0)


def test_each_stage_of_cooling_is_measured_for_itself():
    plan = plan_of(cooling=((JOINING, 100.0), (around(JOINING_BAR, 2.0), 150.0)))
    steps = [step.step for step in measured(SAMPLES, plan).steps if step.phase is Phase.COOLING]
    assert steps == [1, 2]


def test_the_plate_is_told_at_contact_at_removal_and_at_its_coldest():
    contact_s, out_s = DRAWN.truth[Phase.BEAD_UP][0], DRAWN.truth[Phase.CHANGEOVER][0]
    samples = [
        replace(s, plate_temperature_degC=221.0)
        if s.t_s < contact_s
        else replace(s, plate_temperature_degC=214.0 if s.t_s < contact_s + 20.0 else 218.0)
        for s in SAMPLES
        if s.t_s < out_s + 200.0
    ]
    plate = measured(samples).plate
    assert plate.at_contact_degC == pytest.approx(221.0, abs=0.2)
    assert (plate.least_degC, plate.at_removal_degC) == (214.0, 218.0)


def test_drag_is_told_with_plateau_spread_and_the_peak_that_broke_it_away():
    contact_s = DRAWN.truth[Phase.BEAD_UP][0]
    drag = measured(changed(contact_s - 2.0, contact_s - 1.6, 5.0)).drag
    assert drag.confirmed_bar == DRAG_BAR
    assert drag.detected_bar == pytest.approx(DRAG_BAR, abs=0.1)
    assert drag.breakaway_bar == pytest.approx(DRAG_BAR + 5.0, abs=0.3)
    assert drag.spread_bar is not None
    assert drag.spread_bar < 0.4
    assert measured(SAMPLES).drag.breakaway_bar is None


def test_nothing_is_measured_without_a_plan_or_without_a_joint():
    assert judge(SAMPLES, joint=None, plan=None).measures is None
    assert judge([], joint="D-1", plan=PLAN).measures is None
