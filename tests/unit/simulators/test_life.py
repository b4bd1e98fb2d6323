"""What else happens in the life of a joint: each happening shows as it should, and truth knows of it."""

import math
from itertools import pairwise

import pytest

from simulators.hydraulics import STEP_S
from simulators.rig import RigState, Trajectory, simulate
from simulators.scenario import load_scenario
from simulators.sensors import PRESSURE_BAR_PER_COUNT, Sensors
from tests.unit.simulators.joints import joint, short_joint


def states(trajectory: Trajectory, start_s: float, end_s: float) -> list[RigState]:
    first, last = trajectory.index_at(start_s), trajectory.index_at(end_s)
    return [trajectory.sample_at(tick * STEP_S) for tick in range(first, last)]


def span_of(trajectory: Trajectory, phase: str) -> tuple[float, float]:
    return next((span.start_s, span.end_s) for span in trajectory.truth if span.phase == phase)


def in_phase(trajectory: Trajectory, phase: str, skip_s: float = 0.0) -> list[RigState]:
    start_s, end_s = span_of(trajectory, phase)
    return states(trajectory, start_s + skip_s, end_s)


def test_the_faces_come_off_the_plate_in_the_soak_and_are_brought_back() -> None:
    trajectory = short_joint("contact-lost-in-soak")
    thickness_mm = trajectory.scenario.rig.plate_thickness_mm
    soak = in_phase(trajectory, "heat_soak")
    apart = [state for state in soak if state.carriage_mm > thickness_mm + 2.9]
    assert len(apart) * STEP_S == pytest.approx(2.5, abs=0.7)
    assert all(state.interface_bar == 0.0 and state.plate_in for state in apart)
    assert soak[-1].carriage_mm < thickness_mm
    assert len(in_phase(short_joint(), "heat_soak")) == pytest.approx(len(soak), abs=20)


def test_a_plate_pushed_straight_is_unseen_by_its_switch_while_contact_stays() -> None:
    soak = in_phase(short_joint("plate-moved-in-soak"), "heat_soak", skip_s=3.0)
    unseen = [state for state in soak if not state.plate_in]
    assert 1.1 < len(unseen) * STEP_S < 2.0
    assert max(state.carriage_mm for state in soak) < 16.0


def test_nudges_stay_below_the_limit_of_the_soak() -> None:
    trajectory = short_joint("nudged-in-soak")
    scenario = trajectory.scenario
    limit_bar = scenario.gauge_bar(scenario.targets.soak_limit_interface_MPa)
    held = [state.cylinder_bar for state in in_phase(trajectory, "heat_soak", skip_s=3.0)]
    resting_bar = limit_bar * scenario.operator.soak_share_of_limit
    rises = sum(a < resting_bar + 1.0 <= b for a, b in pairwise(held))
    assert rises == 3
    assert max(held) <= limit_bar


@pytest.mark.parametrize(("name", "faced_between"), [("restart-unfaced", False), ("restart-faced", True)])
def test_a_broken_off_bead_up_comes_before_the_true_one(name: str, *, faced_between: bool) -> None:
    trajectory = short_joint(name)
    bead_up_s = trajectory.start_of("bead_up")
    pressed = [
        number * STEP_S
        for number, state in enumerate(states(trajectory, 0.0, bead_up_s))
        if state.plate_in and state.interface_bar > 1.0
    ]
    assert len(pressed) * STEP_S == pytest.approx(12.0, abs=2.0)
    between = states(trajectory, pressed[-1], bead_up_s)
    facer_mm = trajectory.scenario.rig.facer_thickness_mm
    cut = [s for s in between if s.interface_bar > 0.5 and abs(s.carriage_mm - facer_mm) < 3.0]
    assert bool(cut) is faced_between
    assert trajectory.truth[0].end_s - bead_up_s == pytest.approx(18.0, abs=0.1)


def test_each_heating_draws_heat_from_the_plate() -> None:
    trajectory = short_joint("restart-faced")
    shown = trajectory.plate_temperature_degC
    pressed = [k for k, bar in enumerate(trajectory.interface_bar) if bar > 1.0 and trajectory.plate_in[k]]
    first, second = pressed[0], trajectory.index_at(trajectory.start_of("bead_up"))
    for at in (first, second):
        assert shown[at] - min(shown[at : at + round(15.0 / STEP_S)]) > 1.5


def test_build_up_begins_with_the_first_of_two_contacts() -> None:
    trajectory = short_joint("second-closing")
    touching = [state.interface_bar > 0.0 for state in in_phase(trajectory, "pressure_build_up")[1:]]
    assert touching[1]
    assert sum(a and not b for a, b in pairwise(touching)) == 1
    assert max(state.carriage_mm for state in in_phase(trajectory, "pressure_build_up")) > 2.9


def test_a_line_gauge_loses_sight_of_a_carriage_that_is_shut_off_and_a_closing_gauge_does_not() -> None:
    line = joint("pack-stopped")
    closing = simulate(line.scenario.with_changes({"rig": {"gauge_side": "closing"}}))
    for t_s in (line.start_of("cooling") + 140.0, line.truth[-1].end_s - 1.0):
        assert line.sample_at(t_s).gauge_bar < 0.1
        assert closing.sample_at(t_s).gauge_bar == pytest.approx(line.sample_at(t_s).cylinder_bar, abs=0.05)
        assert line.sample_at(t_s).cylinder_bar > 10.0
    assert line.truth == closing.truth


def test_an_accumulator_lifts_the_pressure_at_once() -> None:
    trajectory = joint("accumulator-step")
    scenario, at_s = trajectory.scenario, trajectory.start_of("cooling") + 150.0
    before, after = trajectory.sample_at(at_s - 1.0), trajectory.sample_at(at_s + 2.0)
    step_bar = scenario.gauge_bar(0.005) - scenario.rig.drag_bar
    assert after.cylinder_bar - before.cylinder_bar == pytest.approx(step_bar, abs=0.1)


def test_a_hand_pump_raises_the_pressure_in_steps() -> None:
    def still_share(name: str) -> float:
        bars = [s.cylinder_bar for s in in_phase(short_joint(name), "pressure_build_up", skip_s=0.6)]
        return sum(b - a < 0.0005 for a, b in pairwise(bars)) / len(bars)

    assert still_share("hand-pump") > 0.3
    assert still_share("clean") < 0.1


def test_a_long_string_sticks_and_slips_by_more_than_the_joining_step() -> None:
    trajectory = short_joint("long-string")
    scenario = trajectory.scenario
    stroke = [s.cylinder_bar for s in states(trajectory, 9.0, 14.0) if 70.0 < s.carriage_mm < 145.0]
    step_bar = scenario.gauge_bar(scenario.targets.joining_interface_MPa) - scenario.rig.drag_bar
    assert max(stroke) - min(stroke) > step_bar
    assert scenario.rig.drag_bar < min(stroke) < scenario.rig.drag_bar + 0.5


def test_breaking_loose_can_take_more_than_joining() -> None:
    trajectory = short_joint("breakaway-above-joining")
    scenario = trajectory.scenario
    start_s, end_s = span_of(trajectory, "changeover")
    closing = [state.cylinder_bar for state in states(trajectory, start_s + 1.0, end_s)]
    assert max(closing) > scenario.gauge_bar(scenario.targets.joining_interface_MPa) + 2.0


def test_a_starting_pump_kicks_a_line_gauge() -> None:
    kicked, clean = short_joint("pump-start-spike"), short_joint()
    starts_s = 8.0
    kick_bar = max(
        a.gauge_bar - b.gauge_bar
        for a, b in zip(
            states(kicked, starts_s, starts_s + 0.5), states(clean, starts_s, starts_s + 0.5), strict=True
        )
    )
    assert 1.5 < kick_bar < 6.0
    assert kicked.cylinder_bar == clean.cylinder_bar


def test_the_opening_stroke_meets_its_stop_at_relief_pressure() -> None:
    trajectory = short_joint("stop-at-relief")
    scenario = trajectory.scenario
    shown = [state.gauge_bar for state in in_phase(trajectory, "changeover")]
    assert max(shown) > 4.0 * scenario.gauge_bar(scenario.targets.joining_interface_MPa)
    assert max(state.carriage_mm for state in in_phase(trajectory, "changeover")) == scenario.rig.stroke_mm
    assert len(shown) * STEP_S < scenario.targets.changeover_max_s


def test_a_face_that_sticks_takes_more_pressure_and_lets_go_at_once() -> None:
    def peak_bar(name: str) -> float:
        trajectory = short_joint(name)
        at_s = trajectory.start_of("changeover")
        return max(state.gauge_bar for state in states(trajectory, at_s - 0.5, at_s + 0.3))

    assert peak_bar("plate-sticks") > peak_bar("clean") + 3.0
    assert short_joint("plate-sticks").truth[2].start_s > short_joint().truth[2].start_s


def test_a_let_down_by_a_jog_shows_opening_pressure_while_the_faces_stay_on_the_plate() -> None:
    trajectory = short_joint("jog-let-down")
    at_s = trajectory.start_of("heat_soak")
    soaking = states(trajectory, at_s, at_s + 3.0)
    assert max(state.carriage_mm for state in soaking) < trajectory.scenario.rig.plate_thickness_mm
    assert soaking[60].cylinder_bar < 0.5 * soaking[0].cylinder_bar


def test_a_slow_release_begins_at_its_first_knee() -> None:
    trajectory = short_joint("slow-release")
    end_s = trajectory.truth[-1].end_s
    at_end, later = trajectory.sample_at(end_s).cylinder_bar, trajectory.sample_at(end_s + 10.0).cylinder_bar
    assert trajectory.sample_at(end_s - 1.0).cylinder_bar == pytest.approx(at_end, abs=0.02)
    assert later == pytest.approx(at_end / 2.0, rel=0.1)


def test_of_two_joints_the_last_is_the_true_one() -> None:
    two, one = short_joint("two-joints"), short_joint()
    assert two.start_of("bead_up") > one.truth[-1].end_s + 60.0
    assert two.duration_s > 2.0 * one.duration_s
    lasts = [span.end_s - span.start_s for span in two.truth]
    assert lasts == pytest.approx([span.end_s - span.start_s for span in one.truth], abs=0.1)


def test_shut_in_oil_warms_and_pushes_the_pressure_up_inside_the_band() -> None:
    trajectory = joint("sun-on-the-hose")
    scenario, targets = trajectory.scenario, trajectory.scenario.targets
    cooling = in_phase(trajectory, "cooling", skip_s=60.0)
    assert cooling[-1].cylinder_bar > cooling[0].cylinder_bar + 0.05
    high_bar = scenario.gauge_bar(targets.joining_interface_MPa + targets.joining_tolerance_MPa)
    assert max(state.cylinder_bar for state in cooling) < high_bar


def test_a_plate_that_swings_does_so_by_its_hysteresis() -> None:
    trajectory = short_joint("long-preparation")
    shown = [
        s.plate_temperature_degC for s in states(trajectory, 60.0, trajectory.start_of("bead_up"))[::100]
    ]
    assert max(shown) - min(shown) == pytest.approx(8.0, abs=1.5)
    assert trajectory.start_of("bead_up") > short_joint().start_of("bead_up") + 200.0


def test_two_stages_of_pressure_and_no_step_below_drag_between_them() -> None:
    scenario = load_scenario("clean").with_changes(
        {"targets": {"first_stage_s": 20.0, "second_interface_MPa": 0.05}}
    )
    trajectory = simulate(scenario, 60.0)
    start_s, end_s = span_of(trajectory, "cooling")
    assert end_s - start_s == pytest.approx(60.0, abs=0.1)
    assert trajectory.sample_at(start_s + 18.0).cylinder_bar == pytest.approx(
        scenario.gauge_bar(0.15), abs=0.1
    )
    assert trajectory.sample_at(end_s - 5.0).cylinder_bar == pytest.approx(scenario.gauge_bar(0.05), abs=0.1)
    assert min(state.cylinder_bar for state in in_phase(trajectory, "cooling")) > scenario.rig.drag_bar


def test_noise_with_a_memory_keeps_its_spread_and_forgets_itself() -> None:
    scenario = load_scenario("clean").with_changes({"sensors": {"pressure_noise_memory_s": 0.3}})
    sensors = Sensors(simulate(scenario, 60.0), seed=2, noise_bar=1.0)
    noise = list(sensors._pressure_noise)
    mean_square = sum(n * n for n in noise) / len(noise)
    lag = round(0.3 / STEP_S)
    together = sum(a * b for a, b in zip(noise, noise[lag:], strict=False)) / (len(noise) - lag)
    assert math.sqrt(mean_square) == pytest.approx(1.0, rel=0.1)
    assert together / mean_square == pytest.approx(math.exp(-1.0), abs=0.1)


def test_a_coarse_converter_gives_multiples_of_its_step() -> None:
    scenario = load_scenario("clean").with_changes({"sensors": {"pressure_step_bar": 0.1}})
    sensors = Sensors(simulate(scenario, 60.0), seed=1)
    counts = {reading.pressure_counts for k in range(800) if (reading := sensors.read(k / 5))}
    step = round(0.1 / PRESSURE_BAR_PER_COUNT)
    assert len(counts) > 10
    assert {(count - 6400) % step for count in counts} == {0}


def test_an_unknown_cause_of_standing_still_is_named() -> None:
    scenario = load_scenario("clean").with_changes({"rig": {"plate_sticks_bar": 500.0}})
    with pytest.raises(ValueError, match="never ends"):
        simulate(scenario, 60.0)
