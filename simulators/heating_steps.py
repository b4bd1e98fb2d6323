"""The operator with the plate in: bead-up, let-down, heat soak, and what may happen in them."""

from collections.abc import Iterator

from simulators.hydraulics import Valve
from simulators.intent import Intent
from simulators.operator_script import Between, Step
from simulators.preparation_steps import facing, plate_in, travel_bar
from simulators.scenario import Fault, Scenario
from simulators.step_ends import after, left, let_down_to, opened, since_boundary, touches

REACTION_S = 0.2  # from the valve to the first movement
_PLATE = Between.PLATE
_JOG_MM3_PER_S = 1500.0
_JOG_LONGEST_S = 1.0
_PARTING_MM_PER_S = 10.0
_NUDGED_S = 0.3  # pressure back to the soak's after a nudge
_WIPING_S = 6.0  # between heatings without facing


def heating(scenario: Scenario, intent: Intent) -> list[Step]:
    """From the open carriage with the plate in to the first face leaving it."""
    fast = scenario.operator.stroke_speed_mm_per_s
    return [
        *_broken_off(scenario, intent),
        *plate_in(scenario),
        *_bead_up(scenario, intent, intent.bead_up_s, boundary="bead_up"),
        *_let_down(scenario, intent),
        *_soak(scenario, intent),
        Step(valve=Valve.OPEN, ends=left, speed_mm_per_s=fast, between=_PLATE),
    ]


def _bead_up(scenario: Scenario, intent: Intent, lasts_s: float, boundary: str | None) -> list[Step]:
    return [
        Step(
            valve=Valve.CLOSE,
            ends=touches,
            setting_bar=travel_bar(scenario),
            speed_mm_per_s=scenario.operator.slow_speed_mm_per_s,
            between=_PLATE,
            eases_off=True,
        ),
        Step(
            valve=Valve.CLOSE,
            ends=after(lasts_s),
            setting_bar=intent.bead_up_bar,
            ramp_s=min(1.5, lasts_s / 4.0),
            between=_PLATE,
            boundary=boundary,
        ),
    ]


def _broken_off(scenario: Scenario, intent: Intent) -> Iterator[Step]:
    """A first heating that was given up; what it melted is faced off, or not."""
    for fault in scenario.faults("restart_unfaced", "restart_faced"):
        yield from plate_in(scenario)
        yield from _bead_up(scenario, intent, fault.magnitude, boundary=None)
        yield Step(valve=Valve.CLOSE, ends=after(1.5), ramp_s=1.0, between=_PLATE)
        if fault.kind == "restart_unfaced":
            room_mm = min(scenario.rig.stroke_mm, scenario.rig.plate_thickness_mm * 2 + 20.0)
            speed = scenario.operator.stroke_speed_mm_per_s
            yield Step(valve=Valve.OPEN, ends=opened(room_mm), speed_mm_per_s=speed, between=_PLATE)
            yield Step(valve=Valve.NEUTRAL, ends=after(3.0), between=_PLATE)
            yield Step(valve=Valve.NEUTRAL, ends=after(_WIPING_S))
        else:
            room_mm = scenario.rig.stroke_mm
            speed = scenario.operator.stroke_speed_mm_per_s
            yield Step(valve=Valve.OPEN, ends=opened(room_mm), speed_mm_per_s=speed, between=_PLATE)
            yield from facing(scenario, intent)


def _let_down(scenario: Scenario, intent: Intent) -> list[Step]:
    operator = scenario.operator
    if operator.let_down == "jog":
        # Opening valve, briefly and slowly: the closing side empties long before the carriage could move.
        return [
            Step(
                valve=Valve.OPEN,
                ends=lambda rig, in_step_s, _since_s: (
                    rig.closing_bar <= intent.soak_bar or in_step_s >= _JOG_LONGEST_S
                ),
                setting_bar=intent.soak_bar,
                speed_mm_per_s=_JOG_MM3_PER_S / scenario.rig.opening_area_mm2,
                between=_PLATE,
                boundary="heat_soak",
            )
        ]
    return [
        Step(
            valve=Valve.CLOSE,
            ends=let_down_to(intent.soak_bar, operator.let_down_s),
            setting_bar=intent.soak_bar,
            ramp_s=operator.let_down_s,
            between=_PLATE,
            boundary="heat_soak",
        )
    ]


def _soak(scenario: Scenario, intent: Intent) -> Iterator[Step]:
    """Hold the soak's pressure, with what happens on the way, until it is time to open."""
    happenings = sorted(
        (
            (fault.after_s + number * fault.every_s, fault)
            for fault in scenario.faults("contact_lost", "nudges", "plate_moved")
            for number in range(fault.count)
        ),
        key=lambda happening: happening[0],
    )
    for at_s, fault in happenings:
        yield _held(intent, at_s)
        yield from (_parted if fault.kind == "contact_lost" else _nudged)(scenario, intent, fault)
    yield _held(intent, intent.soak_s - REACTION_S / 2.0)


def _held(intent: Intent, until_s: float) -> Step:
    return Step(valve=Valve.HOLD, ends=since_boundary(until_s), setting_bar=intent.soak_bar, between=_PLATE)


def _parted(scenario: Scenario, intent: Intent, fault: Fault) -> Iterator[Step]:
    """The faces come off the plate by `magnitude` mm and are brought back."""
    apart_mm = scenario.rig.plate_thickness_mm + fault.magnitude
    yield Step(valve=Valve.OPEN, ends=opened(apart_mm), speed_mm_per_s=_PARTING_MM_PER_S, between=_PLATE)
    yield Step(valve=Valve.NEUTRAL, ends=after(fault.duration_s), between=_PLATE)
    yield Step(
        valve=Valve.CLOSE,
        ends=touches,
        setting_bar=travel_bar(scenario),
        speed_mm_per_s=_PARTING_MM_PER_S,
        between=_PLATE,
        eases_off=True,
    )
    yield Step(valve=Valve.CLOSE, ends=after(0.5), setting_bar=intent.soak_bar, between=_PLATE)


def _nudged(scenario: Scenario, intent: Intent, fault: Fault) -> Iterator[Step]:
    """Pressed a little to keep contact, or because somebody pushes the plate straight."""
    seen = fault.kind == "nudges"
    nudge_bar = scenario.gauge_bar(fault.magnitude) - scenario.rig.drag_bar
    nudge = Step(
        valve=Valve.CLOSE,
        ends=after(fault.duration_s),
        setting_bar=intent.soak_bar + nudge_bar,
        between=_PLATE,
        plate_seen=seen,
    )
    eased = Step(
        valve=Valve.RELIEVE,
        ends=let_down_to(intent.soak_bar, _NUDGED_S),
        setting_bar=intent.soak_bar,
        ramp_s=_NUDGED_S,
        between=_PLATE,
        plate_seen=seen,
    )
    yield from (nudge, eased)
