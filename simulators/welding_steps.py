"""The operator from the opening stroke on: changeover, build-up, cooling, release."""

from collections.abc import Iterator

from simulators.heating_steps import REACTION_S
from simulators.hydraulics import STEP_S, Valve
from simulators.intent import Intent
from simulators.operator_script import EASED_BAR, Between, Step
from simulators.preparation_steps import travel_bar
from simulators.scenario import Fault, Scenario
from simulators.step_ends import after, let_down_to, opened, since_boundary, touches

_PLATE_CLEARANCE_MM = 24.0
_CLOSING_MM_PER_S = 22.0  # what a changeover closing stroke is reckoned with
_CLOSING_SHARE = 0.85  # of full speed, where the whole stroke is used
_AT_THE_STOP_S = 0.4
_SETTLE_S = 2.0  # overshoot comes back within this
_PUMP_RUNS_ON_S = 20.0  # into cooling, while the bead still gives way
_FIRST_PRESS_S = 0.4  # of a closing that is taken back
_AGAIN_MM_PER_S = 20.0


def changeover(scenario: Scenario, intent: Intent) -> list[Step]:
    """From the first face leaving the plate to the faces touching."""
    rig, operator = scenario.rig, scenario.operator
    fast = operator.stroke_speed_mm_per_s
    way_mm = rig.stroke_mm if operator.opens_to_stop else rig.plate_thickness_mm + _PLATE_CLEARANCE_MM
    reckoned_mm_per_s = _CLOSING_SHARE * fast if operator.opens_to_stop else _CLOSING_MM_PER_S
    closing_s = way_mm / reckoned_mm_per_s + REACTION_S
    opening = Step(
        valve=Valve.OPEN,
        ends=opened(way_mm),
        speed_mm_per_s=fast,
        between=Between.PLATE,
        boundary="changeover",
    )
    at_the_stop = Step(
        valve=Valve.OPEN, ends=after(_AT_THE_STOP_S), speed_mm_per_s=fast, between=Between.PLATE
    )
    return [
        opening,
        *([at_the_stop] if operator.opens_to_stop else []),
        Step(
            valve=Valve.NEUTRAL,
            ends=since_boundary(intent.changeover_s - closing_s - 0.2),
            between=Between.PLATE,
        ),
        Step(valve=Valve.NEUTRAL, ends=after(0.2)),
        Step(
            valve=Valve.CLOSE,
            ends=touches,
            setting_bar=travel_bar(scenario),
            speed_mm_per_s=fast,
            arrive_s=intent.changeover_s,
            eases_off=True,
        ),
    ]


def welding(scenario: Scenario, intent: Intent) -> list[Step]:
    """From the faces touching to the idle rig."""
    again = [step for fault in scenario.faults("contact_repeated") for step in _taken_back(scenario, fault)]
    return [
        *again,
        *_build_up(scenario, intent, boundary=None if again else "pressure_build_up"),
        *_first_stage(scenario, intent),
        *_release(scenario),
    ]


def _taken_back(scenario: Scenario, fault: Fault) -> list[Step]:
    """The faces touch, come apart by `magnitude` mm and are closed a second time."""
    rig = scenario.rig
    press_bar = 0.5 * (scenario.gauge_bar(scenario.targets.joining_interface_MPa) - rig.drag_bar)
    return [
        Step(
            valve=Valve.CLOSE,
            ends=after(_FIRST_PRESS_S),
            setting_bar=rig.drag_bar + press_bar,
            ramp_s=_FIRST_PRESS_S,
            boundary="pressure_build_up",
        ),
        Step(valve=Valve.OPEN, ends=opened(fault.magnitude), speed_mm_per_s=_AGAIN_MM_PER_S),
        Step(
            valve=Valve.CLOSE,
            ends=touches,
            setting_bar=travel_bar(scenario),
            speed_mm_per_s=_AGAIN_MM_PER_S,
            eases_off=True,
        ),
    ]


def _build_up(scenario: Scenario, intent: Intent, boundary: str | None) -> list[Step]:
    lag_s = scenario.rig.relief_lag_s
    # The pack follows an even rise one lag late.
    rise_s = max(STEP_S, intent.build_up_s - lag_s)
    edge_bar = min(intent.band_edge_bar, intent.joining_bar)
    start_bar = scenario.rig.drag_bar + EASED_BAR
    slope = (edge_bar - start_bar) / rise_s
    above_edge_s = max(0.0, (intent.peak_bar - edge_bar) / slope - lag_s)
    overshoots = intent.peak_bar > intent.joining_bar
    rise = Step(
        valve=Valve.CLOSE,
        ends=lambda rig, in_step_s, _since_s: (
            rig.closing_bar >= intent.band_edge_bar or in_step_s >= intent.build_up_s + 0.1
        ),
        setting_bar=intent.peak_bar,
        ramp_s=(intent.peak_bar - start_bar) / slope,
        boundary=boundary,
    )
    top = Step(
        valve=Valve.CLOSE,
        ends=after(above_edge_s if overshoots else _runs_on_s(intent)),
        setting_bar=intent.peak_bar,
        ramp_s=above_edge_s,
        boundary="cooling",
    )
    settle = Step(
        valve=Valve.CLOSE,
        ends=after(_runs_on_s(intent)),
        setting_bar=intent.joining_bar,
        ramp_s=_SETTLE_S,
    )
    return [rise, top, *([settle] if overshoots else [])]


def _runs_on_s(intent: Intent) -> float:
    return min(_PUMP_RUNS_ON_S, 0.5 * intent.first_stage_s) if intent.first_stage_s else _PUMP_RUNS_ON_S


def _first_stage(scenario: Scenario, intent: Intent) -> Iterator[Step]:
    """All of cooling, or its first stage and the let-down to the second."""
    if not intent.first_stage_s:
        yield from _held(scenario, intent)
        return
    yield _hold(intent.first_stage_s, intent.joining_bar)
    let_down_s = scenario.operator.let_down_s
    yield Step(
        valve=Valve.CLOSE,
        ends=let_down_to(intent.second_bar, let_down_s),
        setting_bar=intent.second_bar,
        ramp_s=let_down_s,
    )
    yield _hold(intent.cooling_s, intent.second_bar)


def _hold(until_s: float, bar: float, valve: Valve = Valve.HOLD) -> Step:
    return Step(valve=valve, ends=since_boundary(until_s), setting_bar=bar)


def _held(scenario: Scenario, intent: Intent) -> Iterator[Step]:
    """Joining pressure held to the end, with what happens to it on the way."""
    bar = intent.joining_bar
    for fault in scenario.faults("pressure_lost", "pressure_step", "pack_stopped"):
        yield _hold(fault.after_s, bar)
        if fault.kind == "pack_stopped":
            until_s = fault.after_s + fault.duration_s if fault.duration_s else intent.cooling_s
            yield _hold(until_s, bar, Valve.SHUT)
            continue
        change_bar = scenario.gauge_bar(fault.magnitude) - scenario.rig.drag_bar
        bar += change_bar if fault.kind == "pressure_step" else -change_bar
        yield Step(valve=Valve.CLOSE, ends=after(fault.duration_s), setting_bar=bar, ramp_s=fault.duration_s)
    yield _hold(intent.cooling_s, bar)


def _release(scenario: Scenario) -> list[Step]:
    release_s = scenario.operator.release_s
    return [
        Step(valve=Valve.RELIEVE, ends=after(release_s), ramp_s=release_s, boundary="end"),
        Step(valve=Valve.NEUTRAL, ends=after(scenario.operator.tail_s)),
    ]
