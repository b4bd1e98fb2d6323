"""What the operator does before heating: drag test, facing, alignment check, and plate in."""

from simulators.hydraulics import Valve
from simulators.intent import Intent
from simulators.operator_script import Between, Step
from simulators.scenario import Scenario
from simulators.step_ends import after, closed, opened, touches

ABOVE_BREAKAWAY_BAR = 1.5
_DRAG_TEST_SHARE = 0.4  # of the stroke is left open by a drag test


def preparation(scenario: Scenario, intent: Intent) -> list[Step]:
    """From the idle rig to cold faces that fit."""
    return [
        Step(valve=Valve.NEUTRAL, ends=after(scenario.operator.idle_s)),
        *(step for _ in range(scenario.operator.drag_strokes) for step in _drag_test(scenario)),
        *facing(scenario, intent),
        *_alignment_check(scenario, intent),
    ]


def facing(scenario: Scenario, intent: Intent) -> list[Step]:
    """From open to open, with freshly cut faces."""
    rig, operator = scenario.rig, scenario.operator
    cutting_bar = rig.drag_bar + operator.facing_share * (intent.joining_bar - rig.drag_bar)
    return [
        Step(valve=Valve.NEUTRAL, ends=after(operator.facer_handling_s)),
        Step(
            valve=Valve.CLOSE,
            ends=touches,
            setting_bar=travel_bar(scenario),
            speed_mm_per_s=operator.slow_speed_mm_per_s,
            between=Between.FACER,
            eases_off=True,
        ),
        Step(
            valve=Valve.CLOSE, ends=after(operator.facing_s), setting_bar=cutting_bar, between=Between.FACER
        ),
        Step(valve=Valve.NEUTRAL, ends=after(1.0), between=Between.FACER),
        *open_to_the_stop(scenario),
        Step(valve=Valve.NEUTRAL, ends=after(operator.facer_handling_s)),
    ]


def plate_in(scenario: Scenario) -> list[Step]:
    """Open wide enough, put the plate in, keep hands off for a moment."""
    rig, operator = scenario.rig, scenario.operator
    room_mm = min(rig.stroke_mm, rig.plate_thickness_mm * 2 + 20.0)
    return [
        Step(valve=Valve.OPEN, ends=opened(room_mm), speed_mm_per_s=operator.stroke_speed_mm_per_s),
        Step(valve=Valve.NEUTRAL, ends=after(operator.plate_handling_s)),
        Step(valve=Valve.NEUTRAL, ends=after(3.0), between=Between.PLATE),
    ]


def open_to_the_stop(scenario: Scenario) -> list[Step]:
    """All the way, and against the stop for a moment."""
    fast = scenario.operator.stroke_speed_mm_per_s
    return [
        Step(valve=Valve.OPEN, ends=opened(scenario.rig.stroke_mm), speed_mm_per_s=fast),
        Step(valve=Valve.OPEN, ends=after(0.8), speed_mm_per_s=fast),
    ]


def travel_bar(scenario: Scenario) -> float:
    """Pressure setting of a closing stroke: enough to set the carriage moving."""
    return scenario.rig.breakaway_bar + scenario.rig.stick_slip_bar + ABOVE_BREAKAWAY_BAR


def _drag_test(scenario: Scenario) -> list[Step]:
    """One slow closing stroke, read off the gauge."""
    return [
        Step(
            valve=Valve.CLOSE,
            ends=closed(scenario.rig.stroke_mm * _DRAG_TEST_SHARE),
            setting_bar=travel_bar(scenario),
            speed_mm_per_s=scenario.operator.slow_speed_mm_per_s,
        ),
        Step(valve=Valve.NEUTRAL, ends=after(2.0)),
        *open_to_the_stop(scenario),
    ]


def _alignment_check(scenario: Scenario, intent: Intent) -> list[Step]:
    """Cold faces pressed together; the clamps must not slip at the highest pressure there will be."""
    operator, joining_bar = scenario.operator, intent.joining_bar
    return [
        Step(
            valve=Valve.CLOSE,
            ends=touches,
            setting_bar=travel_bar(scenario),
            speed_mm_per_s=operator.stroke_speed_mm_per_s,
            eases_off=True,
        ),
        Step(valve=Valve.CLOSE, ends=after(1.0), setting_bar=joining_bar, ramp_s=1.0),
        Step(valve=Valve.HOLD, ends=after(operator.alignment_s), setting_bar=joining_bar),
        Step(valve=Valve.NEUTRAL, ends=after(1.0)),
    ]
