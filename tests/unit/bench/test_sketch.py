"""Sketched joints: truth is where the corners were put, the gauge follows late, the faults are in them."""

from dataclasses import replace

import pytest

from simulators.hydraulics import STEP_S
from simulators.intent import intent_of
from simulators.rig import Trajectory
from simulators.scenario import PHASES, Fault, Scenario, load_scenario
from tests.bench.sketch import can_sketch, sketch

SEED = 7


def clean(*faults: Fault) -> Scenario:
    return replace(load_scenario("clean"), fault=faults)


def lengths_s(trajectory: Trajectory) -> list[float]:
    return [span.end_s - span.start_s for span in trajectory.truth]


@pytest.mark.parametrize("seed", range(5))
def test_the_phases_last_as_long_as_the_operator_means_them_to(seed):
    intent = intent_of(clean())
    trajectory = sketch(clean(), seed)
    assert [span.phase for span in trajectory.truth] == list(PHASES)
    meant = [intent.bead_up_s, intent.soak_s, intent.changeover_s, intent.build_up_s, intent.cooling_s]
    # A rounded ramp crosses the band a little off the straight line's time.
    assert lengths_s(trajectory) == pytest.approx(meant, abs=0.5)


def test_boundaries_are_where_the_curve_bends():
    scenario = clean()
    intent, trajectory = intent_of(scenario), sketch(scenario, SEED)
    start_s = {span.phase: span.start_s for span in trajectory.truth}
    drag_bar = scenario.rig.drag_bar
    for phase in ("bead_up", "pressure_build_up"):
        assert trajectory.sample_at(start_s[phase] - STEP_S).cylinder_bar == pytest.approx(drag_bar, abs=1e-6)
        assert trajectory.sample_at(start_s[phase] + 0.2).cylinder_bar > drag_bar
    let_down_s = start_s["heat_soak"]
    assert trajectory.sample_at(let_down_s - STEP_S).cylinder_bar == pytest.approx(intent.bead_up_bar)
    assert trajectory.sample_at(let_down_s + 0.2).cylinder_bar < intent.bead_up_bar
    leaves = trajectory.index_at(start_s["changeover"])
    assert trajectory.carriage_mm[leaves - 1] == pytest.approx(trajectory.carriage_mm[leaves - 20])
    assert trajectory.carriage_mm[leaves + 20] > trajectory.carriage_mm[leaves] + 1.0
    entered = trajectory.index_at(start_s["cooling"])
    assert trajectory.cylinder_bar[entered - 1] < intent.band_edge_bar <= trajectory.cylinder_bar[entered]
    end_s = trajectory.truth[-1].end_s
    assert trajectory.sample_at(end_s + 0.3).cylinder_bar < trajectory.sample_at(end_s - STEP_S).cylinder_bar


@pytest.mark.parametrize("lag_s", [0.1, 0.4, 1.0])
def test_the_gauge_shows_a_ramp_one_lag_late_and_dead_time_at_most(lag_s):
    scenario = clean().with_changes({"rig": {"hydraulic_lag_s": lag_s, "ripple_bar": 0.0}})
    trajectory = sketch(scenario, SEED)
    middle_s = trajectory.start_of("pressure_build_up") + 3.0
    bar = trajectory.sample_at(middle_s).cylinder_bar
    shown_s = next(
        k * STEP_S
        for k in range(trajectory.index_at(middle_s), len(trajectory.gauge_bar))
        if trajectory.gauge_bar[k] >= bar
    )
    assert 0.5 * lag_s < shown_s - middle_s < lag_s + 0.2


def test_a_closing_gauge_does_not_show_the_opening_stroke():
    shown = {}
    for side in ("line", "closing"):
        trajectory = sketch(clean().with_changes({"rig": {"gauge_side": side, "ripple_bar": 0.0}}), SEED)
        at_s = trajectory.start_of("changeover")
        shown[side] = max(
            trajectory.gauge_bar[trajectory.index_at(at_s + 0.3) : trajectory.index_at(at_s + 0.6)]
        )
    assert shown["line"] > 3.0 > shown["closing"]


@pytest.mark.parametrize(
    ("fault", "phase", "longer_s"),
    [
        (Fault(kind="slow_changeover", magnitude=2.0), 2, 2.0 + 5.49 * (1 - 0.69)),
        (Fault(kind="short_soak", magnitude=8.0), 1, -8.0 - 2.7),
        (Fault(kind="early_release", magnitude=60.0), 4, -60.0 - 8.0),
    ],
)
def test_a_fault_changes_the_phase_that_it_befalls(fault, phase, longer_s):
    before, after = lengths_s(sketch(clean(), SEED)), lengths_s(sketch(clean(fault), SEED))
    assert after[phase] - before[phase] == pytest.approx(longer_s, abs=0.1)


def test_pressure_lost_is_lost():
    scenario = clean(Fault(kind="pressure_lost", magnitude=0.1, after_s=60.0, duration_s=5.0))
    trajectory = sketch(scenario, SEED)
    at_s = trajectory.start_of("cooling")
    fell_bar = trajectory.sample_at(at_s + 59.0).cylinder_bar - trajectory.sample_at(at_s + 70.0).cylinder_bar
    assert fell_bar == pytest.approx(scenario.gauge_bar(0.1) - scenario.rig.drag_bar, abs=0.01)


def test_one_seed_is_one_curve():
    assert sketch(clean(), 3).gauge_bar == sketch(clean(), 3).gauge_bar
    assert sketch(clean(), 3).gauge_bar != sketch(clean(), 4).gauge_bar


def test_what_only_a_rig_can_do_is_not_sketched():
    assert can_sketch(clean())
    assert not can_sketch(clean(Fault(kind="contact_lost", magnitude=3.0)))
    assert not can_sketch(clean().with_changes({"operator": {"joints": 2}}))
