"""The scripted operator: works through a list of steps, each ended by what the rig shows."""

from collections.abc import Callable
from dataclasses import dataclass

from simulators.hydraulics import STEP_S, Hydraulics, Order, Valve
from simulators.intent import Intent
from simulators.scenario import Phase, Scenario

# The operator's feel for the rig and what the faces do; plausible, no published source.
EASED_BAR = 0.2  # setting above drag for the last stretch: enough to creep, little to press
_EASE_OFF_MM = 10.0  # where a stroke is slowed before contact
_FACING_CUT_MM = 2.0
_MELT_MM_PER_S = 0.03  # at the joining pressure
_MELT_COOLS_S = 15.0


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
    ramp_s: float = 0.0
    """The setting is turned there evenly, from wherever it was."""
    speed_mm_per_s: float = 40.0
    arrive_s: float | None = None
    """Regulate the stroke so that the faces touch this long after the last boundary."""
    between: str = Between.NOTHING
    eases_off: bool = False
    plate_seen: bool = True
    """Whether the plate's switch notices a plate that is in."""
    boundary: Phase | str | None = None
    """The phase that begins with this step; "end" ends cooling."""


class OperatorScript:
    """Runs the steps against a rig; `boundaries` fills up as phases begin, `order` is the current order."""

    def __init__(self, scenario: Scenario, intent: Intent, steps: list[Step]) -> None:
        self._scenario = scenario
        self._steps = steps
        self._at = 0
        self._ticks_in_step = 0
        self._ticks_since = 0
        self._ramp_from_bar = 0.0
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
    def step_number(self) -> int:
        """Counted from 1."""
        return self._at + 1

    @property
    def plate_in(self) -> bool:
        """What the plate's switch says."""
        return self.step.between == Between.PLATE and self.step.plate_seen

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
        here, there = self.step.between, self._steps[self._at + 1].between
        if here == Between.PLATE and there != Between.PLATE:
            self._melt_lost_mm = self._scenario.rig.plate_thickness_mm - rig.contact_mm
        elif here == Between.FACER:
            self._melt_lost_mm = 0.0

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
        self._ramp_from_bar = self.order.setting_bar
        if step.valve is Valve.RELIEVE:
            # A let-off begins where it bites, not where its knob is first turned.
            self._ramp_from_bar = min(self._ramp_from_bar, rig.closing_bar)
        self.order.valve = step.valve
        self._adjust(step, rig, 0.0)

    def _place(self, between: str, rig: Hydraulics) -> None:
        thickness = self._scenario.rig
        rig.stuck_bar = thickness.plate_sticks_bar if between == Between.PLATE else 0.0
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

    def _pumped_s(self, in_step_s: float) -> float:
        """How far up a ramp the pump is: a hand pump by whole strokes, the first one at once."""
        stroke_s = self._scenario.rig.hand_pump_stroke_s
        return (in_step_s // stroke_s + 1.0) * stroke_s if stroke_s else in_step_s

    def _adjust(self, step: Step, rig: Hydraulics, in_step_s: float) -> None:
        order = self.order
        setting = step.setting_bar
        if in_step_s < step.ramp_s:
            ramped_s = self._pumped_s(in_step_s) if setting > self._ramp_from_bar else in_step_s
            setting = self._ramp_from_bar + (setting - self._ramp_from_bar) * min(1.0, ramped_s / step.ramp_s)
        speed = step.speed_mm_per_s
        way_mm = rig.opening_mm - rig.contact_mm
        if step.eases_off and way_mm < _EASE_OFF_MM and rig.moving:
            setting = rig.travel_drag_bar + EASED_BAR
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
