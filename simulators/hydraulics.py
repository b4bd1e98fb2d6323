"""Power pack, valve, cylinders and carriage: pressures from flow, motion from force.

The carriage has no inertia worth modelling: it is stuck, or moves at the speed at which its forces balance.
Pressures are bar, lengths mm, oil volumes mm3. Each step is solved implicitly, so that the stiff contact of
the faces stays stable at the fixed step. Forces are expressed in bar on the closing area.
"""

from dataclasses import dataclass
from enum import IntEnum

from simulators.scenario import Rig

STEP_S = 0.005

# Properties that no scenario needs to vary; plausible for a small rig, no published source.
_CHAMBER_MM3_PER_BAR = 400.0  # oil, hoses
_RELIEF_MM3_PER_S_PER_BAR = 200_000.0  # steepness of the pressure setting
_VENT_MM3_PER_S = 40_000.0
_VISCOUS_BAR_PER_MM_PER_S = 0.005
_TAUT_MM = 15.0  # after its last jerk a string follows evenly for so long
_FREE_MM = 0.02  # faces closer than this still touch


class Valve(IntEnum):
    """The directional valve and, for HOLD, the check valve behind it."""

    NEUTRAL = 0
    """Both sides to tank."""
    CLOSE = 1
    """Pump on the closing side, at the set pressure; more than that flows back."""
    HOLD = 2
    """Pump off, closing side shut in; topped up when it has leaked down."""
    OPEN = 3
    """Pump on the opening side, closing side to tank."""
    RELIEVE = 4
    """Pump off, closing side let off down to the set pressure."""
    SHUT = 5
    """Closing side shut in behind its own valve, pack stopped or hoses uncoupled: nobody tops up."""


@dataclass(slots=True)
class Order:
    """What the operator's hands do at this moment."""

    valve: Valve = Valve.NEUTRAL
    setting_bar: float = 0.0
    flow_mm3_per_s: float = 0.0


class Hydraulics:
    """Advances by `STEP_S` per call of `step`; the attributes are the state after it."""

    __slots__ = (
        "_breakaway",
        "_drag",
        "_leak",
        "_moving",
        "_ratio",
        "_relief_share",
        "_rig",
        "_shut_in",
        "_stiffness",
        "_supply_bar",
        "_topping_up",
        "closing_bar",
        "contact_mm",
        "creep_mm_per_s_per_bar",
        "interface_bar",
        "opening_bar",
        "opening_mm",
        "pump_on",
        "stuck_bar",
    )

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._drag = rig.drag_bar
        self._breakaway = rig.breakaway_bar
        self._ratio = rig.opening_area_mm2 / rig.piston_area_mm2
        self._leak = rig.leak_down_bar_per_min / 60.0 * _CHAMBER_MM3_PER_BAR
        self._shut_in = rig.trapped_oil_bar_per_min / 60.0 * _CHAMBER_MM3_PER_BAR - self._leak
        self._relief_share = STEP_S / rig.relief_lag_s
        self._stiffness = rig.contact_bar_per_mm
        self._moving = False
        self._supply_bar = 0.0
        self._topping_up = False
        self.pump_on = False
        self.closing_bar = 0.0
        self.opening_bar = 0.0
        self.opening_mm = rig.stroke_mm
        self.contact_mm = 0.0
        """Opening at which the faces meet what is between them."""
        self.interface_bar = 0.0
        """Force at the faces."""
        self.creep_mm_per_s_per_bar = 0.0
        """How fast the faces give way: molten, or being cut; 0 when cold."""
        self.stuck_bar = 0.0
        """What holds a face to the hot plate beyond friction."""

    @property
    def touching(self) -> bool:
        return self.opening_mm <= self.contact_mm + _FREE_MM

    @property
    def moving(self) -> bool:
        return self._moving

    @property
    def travel_drag_bar(self) -> float:
        """Drag at this point of a free stroke: a long string stores travel and lets go of it in jerks."""
        way_mm = self.opening_mm - self.contact_mm - _TAUT_MM
        if not self._rig.stick_slip_bar or way_mm <= 0.0:
            return self._drag
        return self._drag + self._rig.stick_slip_bar * (-way_mm / self._rig.stick_slip_mm % 1.0)

    def step(self, order: Order) -> None:
        """Advance by `STEP_S` under this order."""
        valve = order.valve
        if valve is Valve.HOLD:
            self._top_up(order.setting_bar)
        else:
            self._topping_up = False
        driving = valve in (Valve.CLOSE, Valve.RELIEVE) or self._topping_up
        self.pump_on = self._topping_up or valve in (Valve.CLOSE, Valve.OPEN)
        if valve is Valve.SHUT or (valve is Valve.HOLD and not driving):
            self._supply_bar = self.closing_bar  # the pack takes over without a jolt
        else:
            wanted_bar = order.setting_bar if driving else 0.0
            self._supply_bar += (wanted_bar - self._supply_bar) * self._relief_share
        self._creep()
        free = self.interface_bar <= 0.0
        drive = self.closing_bar - self.opening_bar * self._ratio - self.interface_bar
        drag = self.travel_drag_bar if free else self._drag
        friction = self._breakaway if free and not self._moving else drag
        stuck = self.stuck_bar if self.stuck_bar and self.touching else 0.0
        if drive < -friction - stuck and self.opening_mm < self._rig.stroke_mm:
            self._move_open(order)
            self._press_closing_side(order, 0.0, 0.0)
            self._moving = True
        else:
            closing = drive > friction
            stiffness = 0.0 if self.opening_mm > self.contact_mm else self._stiffness
            give = _VISCOUS_BAR_PER_MM_PER_S + stiffness * STEP_S
            before_bar = self.interface_bar + drag
            area = self._rig.piston_area_mm2 / give if closing else 0.0
            self._press_closing_side(order, area, before_bar)
            if closing:
                self._move_closed((self.closing_bar - before_bar) / give)
            self._moving = closing
            self._press_opening_side(order, 0.0, 0.0)
        squeeze_mm = self.contact_mm - self.opening_mm
        self.interface_bar = self._stiffness * squeeze_mm if squeeze_mm > 0.0 else 0.0

    def _top_up(self, setting_bar: float) -> None:
        if self.closing_bar < setting_bar - self._rig.top_up_threshold_bar:
            self._topping_up = True
        elif self.closing_bar > setting_bar - 0.01:
            self._topping_up = False

    def _creep(self) -> None:
        if self.interface_bar > 0.0 and self.creep_mm_per_s_per_bar > 0.0:
            give_mm = self.creep_mm_per_s_per_bar * self.interface_bar * STEP_S
            self.contact_mm -= give_mm
            self.interface_bar = max(0.0, self.interface_bar - give_mm * self._stiffness)

    def _move_closed(self, speed_mm_per_s: float) -> None:
        there_mm = self.opening_mm - max(0.0, speed_mm_per_s) * STEP_S
        if there_mm < self.contact_mm < self.opening_mm:
            there_mm = self.contact_mm
        self.opening_mm = there_mm

    def _move_open(self, order: Order) -> None:
        stiffness = self._stiffness if self.interface_bar > 0.0 else 0.0
        give = _VISCOUS_BAR_PER_MM_PER_S + stiffness * STEP_S
        held_bar = self.closing_bar + self._drag - self.interface_bar
        self._press_opening_side(order, self._rig.opening_area_mm2 / give, held_bar)
        speed_mm_per_s = (self.opening_bar * self._ratio - held_bar) / give
        self.opening_mm = min(self._rig.stroke_mm, self.opening_mm + max(0.0, speed_mm_per_s) * STEP_S)

    def _press_closing_side(self, order: Order, area: float, held_bar: float) -> None:
        """New closing pressure; `area` is mm3/s of swept volume per bar above `held_bar`, 0 when at rest."""
        source_bar = self._supply_bar
        if order.valve in (Valve.HOLD, Valve.SHUT):
            ceiling, floor = (order.flow_mm3_per_s if self._topping_up else self._shut_in), self._shut_in
        elif order.valve in (Valve.CLOSE, Valve.RELIEVE):
            ceiling = order.flow_mm3_per_s if order.valve is Valve.CLOSE else 0.0
            floor = -_VENT_MM3_PER_S
        else:
            source_bar, ceiling, floor = 0.0, 0.0, -_VENT_MM3_PER_S
        swept = held_bar * area
        self.closing_bar = _pressed(self.closing_bar, source_bar, (floor, ceiling), area, swept)

    def _press_opening_side(self, order: Order, area: float, held_bar: float) -> None:
        opening = order.valve is Valve.OPEN
        if not opening and self.opening_bar < 0.001:
            self.opening_bar = 0.0
            return
        source_bar = self._rig.relief_bar if opening else 0.0
        limits = (-_VENT_MM3_PER_S, order.flow_mm3_per_s if opening else 0.0)
        self.opening_bar = _pressed(self.opening_bar, source_bar, limits, area * self._ratio, held_bar * area)


def _pressed(
    before_bar: float, source_bar: float, limits: tuple[float, float], area: float, swept: float
) -> float:
    """Chamber pressure one step on: flow from a pressure source within `limits`, less the swept volume."""
    share = STEP_S / _CHAMBER_MM3_PER_BAR
    base = before_bar + share * swept
    after = (base + share * _RELIEF_MM3_PER_S_PER_BAR * source_bar) / (
        1.0 + share * (area + _RELIEF_MM3_PER_S_PER_BAR)
    )
    flow = _RELIEF_MM3_PER_S_PER_BAR * (source_bar - after)
    if flow > limits[1]:
        after = (base + share * limits[1]) / (1.0 + share * area)
    elif flow < limits[0]:
        after = (base + share * limits[0]) / (1.0 + share * area)
    return after if after > 0.0 else 0.0
