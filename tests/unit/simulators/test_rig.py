"""The rig obeys its physics, and its truth says what the operator did."""

import itertools

import pytest

from simulators.hydraulics import STEP_S
from simulators.intent import intent_of
from simulators.rig import RigState, Trajectory, simulate
from simulators.scenario import PHASES, load_scenario, scenario_names
from simulators.tables import ScenarioError
from tests.unit.simulators.joints import SHORT_COOLING_S, joint, short_joint

COOLS_LONGER_S = {"pressure-lost-in-cooling": 140.0, "pack-stopped": 120.0, "accumulator-step": 150.5}
"""What happens later than the short cooling of these tests happens all the same."""
SLACK_S = {"hand-pump": 0.6, "second-closing": 1.5}
"""A stroke of the hand pump, and the way apart and back."""


def states(trajectory: Trajectory, start_s: float, end_s: float) -> list[RigState]:
    return [
        trajectory.sample_at(tick * STEP_S)
        for tick in range(trajectory.index_at(start_s), trajectory.index_at(end_s))
    ]


def lengths(trajectory: Trajectory) -> dict[str, float]:
    return {span.phase: span.end_s - span.start_s for span in trajectory.truth}


@pytest.mark.parametrize("name", scenario_names())
def test_truth_is_five_phases_in_order_without_a_gap(name: str) -> None:
    truth = short_joint(name).truth
    assert tuple(span.phase for span in truth) == PHASES
    assert all(span.start_s < span.end_s for span in truth)
    assert all(one.end_s == following.start_s for one, following in itertools.pairwise(truth))


@pytest.mark.parametrize("name", scenario_names())
def test_phases_last_as_long_as_the_operator_means_them_to(name: str) -> None:
    trajectory = short_joint(name)
    intent = intent_of(trajectory.scenario, SHORT_COOLING_S)
    assert lengths(trajectory) == pytest.approx(
        {
            "bead_up": intent.bead_up_s,
            "heat_soak": intent.soak_s,
            "changeover": intent.changeover_s,
            "pressure_build_up": intent.build_up_s,
            "cooling": COOLS_LONGER_S.get(name, SHORT_COOLING_S),
        },
        abs=SLACK_S.get(name, 0.15),
    )


def test_the_clean_joint_stays_inside_its_plan() -> None:
    trajectory = joint("clean")
    targets, length = trajectory.scenario.targets, lengths(trajectory)
    assert length["heat_soak"] > targets.soak_min_s
    assert length["changeover"] < targets.changeover_max_s
    assert length["pressure_build_up"] < targets.build_up_max_s
    assert length["cooling"] > targets.cooling_min_s
    gauge = trajectory.scenario.gauge_bar
    low_bar, high_bar = (
        gauge(targets.joining_interface_MPa + sign * targets.joining_tolerance_MPa) for sign in (-1, 1)
    )
    cooling = trajectory.truth[-1]
    held = [state.cylinder_bar for state in states(trajectory, cooling.start_s, cooling.end_s)]
    assert low_bar <= min(held)
    assert max(held) <= high_bar
    soak = trajectory.truth[1]
    soaking = states(trajectory, soak.start_s + 3.0, soak.end_s - 0.3)
    assert max(state.cylinder_bar for state in soaking) <= gauge(targets.soak_limit_interface_MPa)


def test_early_release_is_early() -> None:
    trajectory = joint("early-release")
    assert lengths(trajectory)["cooling"] == pytest.approx(
        trajectory.scenario.targets.cooling_min_s - 60.0, abs=0.1
    )


def test_the_drag_stroke_shows_breakaway_then_drag() -> None:
    trajectory = short_joint()
    rig = trajectory.scenario.rig
    stroke = [s for s in states(trajectory, 8.0, 15.0) if s.carriage_mm < rig.stroke_mm - 5.0]
    before = [s.cylinder_bar for s in states(trajectory, 8.0, 9.0)]
    assert max(before) == pytest.approx(rig.breakaway_bar, abs=0.2)
    assert all(s.cylinder_bar == pytest.approx(rig.drag_bar, abs=0.1) for s in stroke)
    speeds = [(b.carriage_mm - a.carriage_mm) / STEP_S for a, b in itertools.pairwise(stroke)]
    assert all(
        speed == pytest.approx(-trajectory.scenario.operator.slow_speed_mm_per_s, abs=0.1) for speed in speeds
    )


def test_facing_lies_between_drag_and_joining_pressure_and_creeps() -> None:
    trajectory = short_joint()
    scenario = trajectory.scenario
    facing = states(trajectory, 45.0, 70.0)
    joining_bar = scenario.gauge_bar(scenario.targets.joining_interface_MPa)
    assert all(scenario.rig.drag_bar + 0.5 < s.cylinder_bar < joining_bar - 0.5 for s in facing)
    assert 0.5 < facing[0].carriage_mm - facing[-1].carriage_mm < 3.0


def test_moving_faces_carry_gauge_less_drag() -> None:
    """While the bead gives way, interface pressure x pipe area = (gauge - drag) x piston area."""
    trajectory = short_joint()
    drag_bar = trajectory.scenario.rig.drag_bar
    bead_up = trajectory.truth[0]
    for state in states(trajectory, bead_up.start_s + 3.0, bead_up.end_s):
        assert state.interface_bar == pytest.approx(state.cylinder_bar - drag_bar, abs=0.01)


def test_faces_at_rest_keep_their_force_when_the_gauge_falls() -> None:
    """Friction holds the squeezed string: what the gauge shows is no force at the faces."""
    trajectory = short_joint()
    after_let_down = trajectory.sample_at(trajectory.start_of("heat_soak") + 1.5)
    assert after_let_down.cylinder_bar < trajectory.scenario.rig.drag_bar
    assert after_let_down.interface_bar > 0.5


def test_boundaries_are_where_the_faces_meet_and_part() -> None:
    trajectory = short_joint()
    drag_bar = trajectory.scenario.rig.drag_bar
    for phase in ("bead_up", "pressure_build_up"):
        start_s = trajectory.start_of(phase)
        assert trajectory.sample_at(start_s - STEP_S).interface_bar == 0.0
        assert trajectory.sample_at(start_s).cylinder_bar == pytest.approx(drag_bar, abs=0.2)
        assert trajectory.sample_at(start_s + 3 * STEP_S).interface_bar > 0.0
    leaves_s = trajectory.start_of("changeover")
    assert trajectory.sample_at(leaves_s).carriage_mm < trajectory.sample_at(leaves_s + 0.1).carriage_mm - 1.0
    edge_bar = intent_of(trajectory.scenario).band_edge_bar
    cooling_s = trajectory.start_of("cooling")
    assert trajectory.sample_at(cooling_s - STEP_S).cylinder_bar < edge_bar
    assert trajectory.sample_at(cooling_s).cylinder_bar >= edge_bar


def test_the_build_up_rises_evenly() -> None:
    trajectory = short_joint()
    start_s, end_s = trajectory.start_of("pressure_build_up"), trajectory.start_of("cooling")
    rise = [
        trajectory.sample_at(start_s + share * (end_s - start_s)).cylinder_bar for share in (0.25, 0.5, 0.75)
    ]
    assert rise[1] - rise[0] == pytest.approx(rise[2] - rise[1], rel=0.05)


def test_the_plate_dips_on_contact_and_recovers() -> None:
    trajectory = short_joint()
    start_s = trajectory.start_of("bead_up")
    before = trajectory.sample_at(start_s).plate_temperature_degC
    lowest = min(s.plate_temperature_degC for s in states(trajectory, start_s, start_s + 20.0))
    later = max(s.plate_temperature_degC for s in states(trajectory, start_s + 20.0, start_s + 75.0))
    assert 2.0 < before - lowest <= trajectory.scenario.plate.contact_dip_degC + 1.0
    assert later > trajectory.scenario.targets.plate_degC


@pytest.mark.parametrize(("name", "offset"), [("cold-plate", -16.0), ("hot-plate", 16.0)])
def test_a_wrong_plate_setting_holds_from_the_start(name: str, offset: float) -> None:
    trajectory = short_joint(name)
    setting = trajectory.scenario.targets.plate_degC + offset
    before_contact = states(trajectory, 0.0, trajectory.start_of("bead_up"))
    assert all(s.plate_temperature_degC == pytest.approx(setting, abs=2.5) for s in before_contact)


def test_holding_leaks_down_and_is_topped_up() -> None:
    trajectory = joint("clean")
    rig = trajectory.scenario.rig
    start_s = trajectory.start_of("cooling") + 120.0
    held = [s.cylinder_bar for s in states(trajectory, start_s, start_s + 240.0)]
    minute = round(30.0 / STEP_S)
    falls = [a - b for a, b in zip(held, held[minute:], strict=False)]
    assert max(falls) == pytest.approx(rig.leak_down_bar_per_min / 2.0, rel=0.5)
    assert any(b - a > 0.001 for a, b in itertools.pairwise(held))
    assert max(held) - min(held) == pytest.approx(rig.top_up_threshold_bar, abs=0.02)


def test_a_line_gauge_shows_opening_strokes_and_a_closing_gauge_does_not() -> None:
    line, closing = short_joint(), short_joint(gauge_side="closing")
    rig = line.scenario.rig
    start_s = line.start_of("changeover")
    opening = [s.gauge_bar for s in states(line, start_s + 0.3, start_s + 0.55)]
    assert max(opening) == pytest.approx(rig.drag_bar * rig.piston_area_mm2 / rig.opening_area_mm2, abs=0.25)
    assert max(s.gauge_bar for s in states(line, 15.0, 30.0)) > 0.9 * rig.relief_bar
    assert max(s.gauge_bar for s in states(closing, 17.0, 28.0)) < 0.1
    assert closing.truth == line.truth


def test_pressure_lost_in_cooling_leaves_a_third() -> None:
    trajectory = joint("pressure-lost-in-cooling")
    scenario = trajectory.scenario
    cooling = trajectory.truth[-1]
    before = trajectory.sample_at(cooling.start_s + 119.0).cylinder_bar
    after = trajectory.sample_at(cooling.start_s + 150.0).cylinder_bar
    assert before - after == pytest.approx(scenario.gauge_bar(0.10) - scenario.rig.drag_bar, abs=0.15)
    assert cooling.end_s - cooling.start_s > scenario.targets.cooling_min_s


def test_overshoot_peaks_and_settles() -> None:
    trajectory = short_joint("overshoot")
    scenario = trajectory.scenario
    cooling_s = trajectory.start_of("cooling")
    peak = max(s.cylinder_bar for s in states(trajectory, cooling_s, cooling_s + 8.0))
    assert peak == pytest.approx(scenario.gauge_bar(0.23), abs=0.1)
    assert trajectory.sample_at(cooling_s + 12.0).cylinder_bar == pytest.approx(
        scenario.gauge_bar(0.15), abs=0.02
    )


def test_the_same_scenario_gives_the_same_joint() -> None:
    again = simulate(load_scenario("clean"), SHORT_COOLING_S)
    assert again.gauge_bar == short_joint().gauge_bar
    assert again.truth == short_joint().truth


def test_another_pipe_and_rig_follow_their_own_plan() -> None:
    scenario = load_scenario("clean").with_changes(
        {
            "pipe": {"dn_mm": 180.0, "wall_mm": 16.4},
            "targets": {
                "soak_min_s": 164.0,
                "changeover_max_s": 8.3,
                "build_up_max_s": 9.6,
                "bead_up_s": 60.0,
            },
            "rig": {"drag_bar": 12.0, "breakaway_bar": 15.0},
        }
    )
    trajectory = simulate(scenario, SHORT_COOLING_S)
    intent = intent_of(scenario, SHORT_COOLING_S)
    length = lengths(trajectory)
    assert length["changeover"] == pytest.approx(intent.changeover_s, abs=0.15)
    assert length["pressure_build_up"] == pytest.approx(intent.build_up_s, abs=0.15)


def test_a_rig_that_cannot_move_is_refused() -> None:
    scenario = load_scenario("clean").with_changes({"rig": {"drag_bar": 20.0}})
    with pytest.raises(ScenarioError, match="never ends"):
        simulate(scenario, SHORT_COOLING_S)
