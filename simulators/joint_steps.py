"""The whole life of one joint as steps: drag test, facing, alignment check, and the five phases."""

from simulators.hydraulics import STEP_S, Hydraulics, Valve
from simulators.intent import Intent
from simulators.operator_script import EASED_BAR, Between, Ends, Step
from simulators.scenario import Scenario

_ABOVE_BREAKAWAY_BAR = 1.5
_PLATE_CLEARANCE_MM = 24.0
_CLOSING_MM_PER_S = 22.0  # what a changeover closing stroke is reckoned with
_REACTION_S = 0.2  # from the valve to the first movement
_SETTLE_S = 2.0  # overshoot comes back within this
_PUMP_RUNS_ON_S = 20.0  # into cooling, while the bead still gives way
_RELEASE_S = 1.5


def joint_steps(scenario: Scenario, intent: Intent) -> list[Step]:
    """Everything the operator does on this joint, from the idle rig to the idle rig."""
    return [
        *_preparation(scenario, intent),
        *_heating(scenario, intent),
        *_changeover(scenario, intent),
        *_welding(scenario, intent),
    ]


def _after(duration_s: float) -> Ends:
    return lambda _rig, in_step_s, _since_s: in_step_s >= duration_s


def _since_boundary(duration_s: float) -> Ends:
    return lambda _rig, _in_step_s, since_s: since_s >= duration_s


def _touches(rig: Hydraulics, _in_step_s: float, _since_s: float) -> bool:
    return rig.opening_mm <= rig.contact_mm


def _left(rig: Hydraulics, _in_step_s: float, _since_s: float) -> bool:
    return not rig.touching


def _opened(opening_mm: float) -> Ends:
    return lambda rig, _in_step_s, _since_s: rig.opening_mm >= opening_mm


def _closed(opening_mm: float) -> Ends:
    return lambda rig, _in_step_s, _since_s: rig.opening_mm <= opening_mm


def _preparation(scenario: Scenario, intent: Intent) -> list[Step]:
    rig, operator = scenario.rig, scenario.operator
    travel_bar = rig.breakaway_bar + _ABOVE_BREAKAWAY_BAR
    slow, fast = operator.slow_speed_mm_per_s, operator.stroke_speed_mm_per_s
    facing_bar = rig.drag_bar + operator.facing_share * (intent.joining_bar - rig.drag_bar)
    close, hands_off = Valve.CLOSE, Valve.NEUTRAL
    facer = Between.FACER

    def open_to_the_stop() -> list[Step]:
        return [
            Step(valve=Valve.OPEN, ends=_opened(rig.stroke_mm), speed_mm_per_s=fast),
            Step(valve=Valve.OPEN, ends=_after(0.8), speed_mm_per_s=fast),
        ]

    return [
        Step(valve=hands_off, ends=_after(operator.idle_s)),
        # Drag test: one slow closing stroke.
        Step(valve=close, ends=_closed(rig.stroke_mm * 0.4), setting_bar=travel_bar, speed_mm_per_s=slow),
        Step(valve=hands_off, ends=_after(2.0)),
        *open_to_the_stop(),
        Step(valve=hands_off, ends=_after(operator.facer_handling_s)),
        Step(
            valve=close,
            ends=_touches,
            setting_bar=travel_bar,
            speed_mm_per_s=slow,
            between=facer,
            eases_off=True,
        ),
        Step(valve=close, ends=_after(operator.facing_s), setting_bar=facing_bar, between=facer),
        Step(valve=hands_off, ends=_after(1.0), between=facer),
        *open_to_the_stop(),
        Step(valve=hands_off, ends=_after(operator.facer_handling_s)),
        # Alignment check: cold faces pressed together.
        Step(valve=close, ends=_touches, setting_bar=travel_bar, speed_mm_per_s=fast, eases_off=True),
        Step(
            valve=close,
            ends=_after(1.0),
            setting_bar=intent.joining_bar,
            ramp_s=1.0,
        ),
        Step(valve=Valve.HOLD, ends=_after(operator.alignment_s), setting_bar=intent.joining_bar),
        Step(valve=hands_off, ends=_after(1.0)),
        Step(valve=Valve.OPEN, ends=_opened(rig.plate_thickness_mm * 2 + 20.0), speed_mm_per_s=fast),
        Step(valve=hands_off, ends=_after(operator.plate_handling_s)),
        Step(valve=hands_off, ends=_after(3.0), between=Between.PLATE),
    ]


def _heating(scenario: Scenario, intent: Intent) -> list[Step]:
    rig, operator = scenario.rig, scenario.operator
    plate = Between.PLATE
    rise_s = min(1.5, intent.bead_up_s / 4.0)
    return [
        Step(
            valve=Valve.CLOSE,
            ends=_touches,
            setting_bar=rig.breakaway_bar + _ABOVE_BREAKAWAY_BAR,
            speed_mm_per_s=operator.slow_speed_mm_per_s,
            between=plate,
            eases_off=True,
        ),
        Step(
            valve=Valve.CLOSE,
            ends=_since_boundary(intent.bead_up_s),
            setting_bar=intent.bead_up_bar,
            ramp_s=rise_s,
            between=plate,
            boundary="bead_up",
        ),
        Step(
            valve=Valve.CLOSE,
            ends=_after(operator.let_down_s + 3.0 * rig.relief_lag_s),
            setting_bar=intent.soak_bar,
            ramp_s=operator.let_down_s,
            between=plate,
            boundary="heat_soak",
        ),
        Step(
            valve=Valve.HOLD,
            ends=_since_boundary(intent.soak_s - _REACTION_S / 2.0),
            setting_bar=intent.soak_bar,
            between=plate,
        ),
        Step(valve=Valve.OPEN, ends=_left, speed_mm_per_s=operator.stroke_speed_mm_per_s, between=plate),
    ]


def _changeover(scenario: Scenario, intent: Intent) -> list[Step]:
    rig, operator = scenario.rig, scenario.operator
    clear_mm = rig.plate_thickness_mm + _PLATE_CLEARANCE_MM
    closing_s = clear_mm / _CLOSING_MM_PER_S + _REACTION_S
    return [
        Step(
            valve=Valve.OPEN,
            ends=_opened(clear_mm),
            speed_mm_per_s=operator.stroke_speed_mm_per_s,
            between=Between.PLATE,
            boundary="changeover",
        ),
        Step(
            valve=Valve.NEUTRAL,
            ends=_since_boundary(intent.changeover_s - closing_s - 0.2),
            between=Between.PLATE,
        ),
        Step(valve=Valve.NEUTRAL, ends=_after(0.2)),
        Step(
            valve=Valve.CLOSE,
            ends=_touches,
            setting_bar=rig.breakaway_bar + _ABOVE_BREAKAWAY_BAR,
            speed_mm_per_s=operator.stroke_speed_mm_per_s,
            arrive_s=intent.changeover_s,
            eases_off=True,
        ),
    ]


def _welding(scenario: Scenario, intent: Intent) -> list[Step]:
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
        boundary="pressure_build_up",
    )
    top = Step(
        valve=Valve.CLOSE,
        ends=_after(above_edge_s if overshoots else _PUMP_RUNS_ON_S),
        setting_bar=intent.peak_bar,
        ramp_s=above_edge_s,
        boundary="cooling",
    )
    settle = Step(
        valve=Valve.CLOSE, ends=_after(_PUMP_RUNS_ON_S), setting_bar=intent.joining_bar, ramp_s=_SETTLE_S
    )
    return [rise, top, *([settle] if overshoots else []), *_holding(intent), *_release(scenario)]


def _holding(intent: Intent) -> list[Step]:
    if intent.lost_bar <= 0.0:
        return [
            Step(valve=Valve.HOLD, ends=_since_boundary(intent.cooling_s), setting_bar=intent.joining_bar)
        ]
    left_bar = intent.joining_bar - intent.lost_bar
    return [
        Step(valve=Valve.HOLD, ends=_since_boundary(intent.lost_after_s), setting_bar=intent.joining_bar),
        Step(
            valve=Valve.CLOSE,
            ends=_after(intent.lost_within_s),
            setting_bar=left_bar,
            ramp_s=intent.lost_within_s,
        ),
        Step(valve=Valve.HOLD, ends=_since_boundary(intent.cooling_s), setting_bar=left_bar),
    ]


def _release(scenario: Scenario) -> list[Step]:
    return [
        Step(
            valve=Valve.CLOSE,
            ends=_after(_RELEASE_S),
            ramp_s=_RELEASE_S,
            boundary="end",
        ),
        Step(valve=Valve.NEUTRAL, ends=_after(scenario.operator.tail_s)),
    ]
