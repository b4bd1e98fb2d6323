"""The scripted operator: the whole life of one joint as a list of steps, each ended by what the rig shows."""

from collections.abc import Callable
from dataclasses import dataclass

from simulators.hydraulics import STEP_S, Hydraulics, Order, Valve
from simulators.intent import Intent
from simulators.scenario import Phase, Scenario

# The operator's feel for the rig, common to all scenarios.
_EASE_OFF_MM = 10.0  # where a stroke is slowed before contact
_EASED_BAR = 0.2  # setting above drag for the last stretch: enough to creep, little to press
_ABOVE_BREAKAWAY_BAR = 1.5
_PLATE_CLEARANCE_MM = 24.0
_CLOSING_MM_PER_S = 22.0  # what a changeover closing stroke is reckoned with
_REACTION_S = 0.2  # from the valve to the first movement
_FACING_CUT_MM = 2.0
_MELT_MM_PER_S = 0.03  # at the joining pressure
_SETTLE_S = 2.0  # overshoot comes back within this
_PUMP_RUNS_ON_S = 20.0  # into cooling, while the bead still gives way
_MELT_COOLS_S = 15.0
_RELEASE_S = 1.5


class Between:
    """What is between the faces."""

    NOTHING = "nothing"
    PLATE = "plate"
    FACER = "facer"


Ends = Callable[[Hydraulics, float, float], bool]
"""(rig, seconds in this step, seconds since the last boundary) to: this step is over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    valve: Valve
    ends: Ends
    setting_bar: float = 0.0
    ramp_from_bar: float | None = None
    ramp_s: float = 0.0
    speed_mm_per_s: float = 40.0
    arrive_s: float | None = None
    """Regulate the stroke so that the faces touch this long after the last boundary."""
    between: str = Between.NOTHING
    eases_off: bool = False
    boundary: Phase | str | None = None
    """The phase that begins with this step; "end" ends cooling."""


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


class OperatorScript:
    """Runs the steps against a rig; `boundaries` fills up as phases begin, `order` is the current order."""

    def __init__(self, scenario: Scenario, intent: Intent) -> None:
        self._scenario = scenario
        self._steps = _preparation(scenario, intent) + _joining(scenario, intent)
        self._at = 0
        self._ticks_in_step = 0
        self._ticks_since = 0
        self._melt_lost_mm = 0.0
        self._net_bar = intent.joining_bar - scenario.rig.drag_bar
        self._welding = False
        self.order = Order()
        self.boundaries: dict[str, float] = {}
        self.finished = False

    @property
    def step(self) -> Step:
        return self._steps[self._at]

    @property
    def plate_in(self) -> bool:
        return self.step.between == Between.PLATE

    def begin(self, rig: Hydraulics) -> None:
        """Set the rig up for the first step."""
        self._enter(rig, 0.0)

    def advance(self, rig: Hydraulics, t_s: float) -> None:
        """Look at the rig after its step, at `t_s`, and give the order for the next one."""
        self._ticks_in_step += 1
        self._ticks_since += 1
        step = self._steps[self._at]
        in_step_s = self._ticks_in_step * STEP_S
        if step.ends(rig, in_step_s, self._ticks_since * STEP_S):
            if self._at + 1 == len(self._steps):
                self.finished = True
                return
            self._leave(rig)
            self._at += 1
            self._enter(rig, t_s)
            return
        if step.ramp_s or step.eases_off or self._welding:
            self._adjust(step, rig, in_step_s)

    def _leave(self, rig: Hydraulics) -> None:
        if self.plate_in and self._steps[self._at + 1].between != Between.PLATE:
            self._melt_lost_mm = self._scenario.rig.plate_thickness_mm - rig.contact_mm

    def _enter(self, rig: Hydraulics, t_s: float) -> None:
        step = self._steps[self._at]
        if step.boundary is not None:
            self.boundaries[step.boundary] = t_s
            self._ticks_since = 0
        if self._at == 0 or step.between != self._steps[self._at - 1].between:
            self._place(step.between, rig)
        if step.boundary == "pressure_build_up":
            rig.creep_mm_per_s_per_bar = _MELT_MM_PER_S / self._net_bar
        self._welding = step.boundary == "cooling" or (self._welding and step.boundary != "end")
        self._ticks_in_step = 0
        self.order.valve = step.valve
        self._adjust(step, rig, 0.0)

    def _place(self, between: str, rig: Hydraulics) -> None:
        thickness = self._scenario.rig
        if between == Between.PLATE:
            rig.contact_mm = thickness.plate_thickness_mm
            rig.creep_mm_per_s_per_bar = _MELT_MM_PER_S / self._net_bar
        elif between == Between.FACER:
            rig.contact_mm = thickness.facer_thickness_mm
            operator = self._scenario.operator
            rig.creep_mm_per_s_per_bar = (
                _FACING_CUT_MM / operator.facing_s / (operator.facing_share * self._net_bar)
            )
        else:
            rig.contact_mm = -self._melt_lost_mm
            rig.creep_mm_per_s_per_bar = 0.0

    def _adjust(self, step: Step, rig: Hydraulics, in_step_s: float) -> None:
        order = self.order
        setting = step.setting_bar
        if step.ramp_s and step.ramp_from_bar is not None and in_step_s < step.ramp_s:
            setting = step.ramp_from_bar + (setting - step.ramp_from_bar) * in_step_s / step.ramp_s
        speed = step.speed_mm_per_s
        way_mm = rig.opening_mm - rig.contact_mm
        if step.eases_off and way_mm < _EASE_OFF_MM:
            setting = self._scenario.rig.drag_bar + _EASED_BAR
        if step.arrive_s is not None:
            left_s = step.arrive_s - self._ticks_since * STEP_S
            speed = min(speed, max(5.0, way_mm / left_s if left_s > STEP_S else speed))
        order.setting_bar = setting
        area = (
            self._scenario.rig.opening_area_mm2
            if step.valve is Valve.OPEN
            else self._scenario.rig.piston_area_mm2
        )
        order.flow_mm3_per_s = speed * area
        if self._welding:
            rig.creep_mm_per_s_per_bar *= 1.0 - STEP_S / _MELT_COOLS_S


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
            ramp_from_bar=rig.drag_bar + _EASED_BAR,
            ramp_s=1.0,
        ),
        Step(valve=Valve.HOLD, ends=_after(operator.alignment_s), setting_bar=intent.joining_bar),
        Step(valve=hands_off, ends=_after(1.0)),
        Step(valve=Valve.OPEN, ends=_opened(rig.plate_thickness_mm * 2 + 20.0), speed_mm_per_s=fast),
        Step(valve=hands_off, ends=_after(operator.plate_handling_s)),
        Step(valve=hands_off, ends=_after(3.0), between=Between.PLATE),
    ]


def _joining(scenario: Scenario, intent: Intent) -> list[Step]:
    return _heating(scenario, intent) + _changeover(scenario, intent) + _welding(scenario, intent)


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
            ramp_from_bar=rig.drag_bar + _EASED_BAR,
            ramp_s=rise_s,
            between=plate,
            boundary="bead_up",
        ),
        Step(
            valve=Valve.CLOSE,
            ends=_after(operator.let_down_s + 3.0 * rig.relief_lag_s),
            setting_bar=intent.soak_bar,
            ramp_from_bar=intent.bead_up_bar,
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
    rig = scenario.rig
    joining_bar, edge_bar = intent.joining_bar, min(intent.band_edge_bar, intent.joining_bar)
    start_bar = rig.drag_bar + _EASED_BAR
    # The pack follows a ramp one lag late.
    rise_s = max(STEP_S, intent.build_up_s - rig.relief_lag_s)
    slope = (edge_bar - start_bar) / rise_s
    overshoots = intent.peak_bar > joining_bar
    rise = [
        Step(
            valve=Valve.CLOSE,
            ends=lambda hydraulics, in_step_s, _since_s: (
                hydraulics.closing_bar >= intent.band_edge_bar or in_step_s >= intent.build_up_s
            ),
            setting_bar=edge_bar + slope * rig.relief_lag_s if edge_bar < joining_bar else joining_bar,
            ramp_from_bar=start_bar,
            ramp_s=rise_s + rig.relief_lag_s if edge_bar < joining_bar else rise_s,
            boundary="pressure_build_up",
        ),
        Step(
            valve=Valve.CLOSE,
            ends=_after(_SETTLE_S if overshoots else _PUMP_RUNS_ON_S),
            setting_bar=intent.peak_bar,
            ramp_from_bar=edge_bar,
            ramp_s=max(STEP_S, (intent.peak_bar - edge_bar) / slope),
            boundary="cooling",
        ),
    ]
    if overshoots:
        rise.append(
            Step(
                valve=Valve.CLOSE,
                ends=_after(_PUMP_RUNS_ON_S),
                setting_bar=joining_bar,
                ramp_from_bar=intent.peak_bar,
                ramp_s=_SETTLE_S,
            )
        )
    return [*rise, *_holding(scenario, intent), *_release(scenario, joining_bar - intent.lost_bar)]


def _holding(scenario: Scenario, intent: Intent) -> list[Step]:
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
            ramp_from_bar=intent.joining_bar,
            ramp_s=intent.lost_within_s,
        ),
        Step(valve=Valve.HOLD, ends=_since_boundary(intent.cooling_s), setting_bar=left_bar),
    ]


def _release(scenario: Scenario, held_bar: float) -> list[Step]:
    return [
        Step(
            valve=Valve.CLOSE,
            ends=_after(_RELEASE_S),
            ramp_from_bar=held_bar,
            ramp_s=_RELEASE_S,
            boundary="end",
        ),
        Step(valve=Valve.NEUTRAL, ends=_after(scenario.operator.tail_s)),
    ]
