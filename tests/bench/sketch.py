"""Joints drawn from curves, with no rig behind them: what the simulator's own lag and physics cannot favour.

Ramps are straight, rounded at both ends, exponential or made in two goes; pressure sags while it is held and
is made up; the carriage sticks and slips; the thermostat switches. What the gauge adds is in `sketch_gauge`.
Only numbers of plan and faults come from the simulator.
"""

import math
import random
from array import array
from dataclasses import dataclass, field

import numpy as np

from simulators.hydraulics import STEP_S
from simulators.intent import Intent, intent_of
from simulators.rig import PhaseSpan, Trajectory
from simulators.scenario import PHASES, FaultKind, Scenario
from tests.bench.sketch_gauge import Curve, shown

SKETCHED: tuple[FaultKind, ...] = (
    "bead_up_pressure",
    "cooling_pressure",
    "dropout",
    "early_release",
    "fast_build_up",
    "long_bead_up",
    "long_soak",
    "overshoot",
    "plate_setting",
    "pressure_lost",
    "short_soak",
    "slow_build_up",
    "slow_changeover",
    "soak_pressure",
    "spikes",
    "stuck_sensor",
    "wire_break",
)
STEPPED_AT = (0.35, 0.7)
PAUSE_S = (0.3, 0.9)
SAGS_SHARE = 0.3
"""How far a held pressure sags before it is made up, as a share of the joining tolerance."""
ROUNDING_S = 0.25
OPENED_MM = 40.0


def can_sketch(scenario: Scenario) -> bool:
    """Whether all that goes wrong on this joint can be drawn."""
    return scenario.operator.joints == 1 and all(fault.kind in SKETCHED for fault in scenario.fault)


def sketch(scenario: Scenario, seed: int) -> Trajectory:
    """Draw the joint of this scenario; truth is where the corners were put."""
    rng = random.Random(f"sketch {seed}")
    pen = _Pen(rng)
    intent = intent_of(scenario)
    _prepare(pen, scenario, intent)
    _heat(pen, scenario, intent)
    _change_over(pen, scenario, intent)
    _weld(pen, scenario, intent)
    closing, opening = np.concatenate(pen.closing), np.concatenate(pen.opening)
    shows_opening = scenario.rig.gauge_side == "line"
    source = np.where(opening > closing, opening, closing) if shows_opening else closing
    gauge = shown(source, scenario, rng)
    times = pen.times
    starts = [times[phase] for phase in PHASES] + [times["end"]]
    truth = tuple(PhaseSpan(p, a, b) for p, a, b in zip(PHASES, starts[:-1], starts[1:], strict=True))
    plate_in = np.zeros(len(closing), dtype=np.uint8)
    plate_in[_tick(times["plate_in"]) : _tick(times["plate_out"])] = 1
    return Trajectory(
        scenario,
        truth,
        _array(closing),
        _array(gauge),
        _array(np.zeros_like(closing)),
        _array(_plate(scenario, intent, rng, times, len(closing))),
        _array(np.concatenate(pen.carriage)),
        bytearray(plate_in.tobytes()),
    )


@dataclass
class _Pen:
    """Draws closing pressure, opening pressure and carriage side by side, piece by piece."""

    rng: random.Random
    closing: list[Curve] = field(default_factory=list)
    opening: list[Curve] = field(default_factory=list)
    carriage: list[Curve] = field(default_factory=list)
    times: dict[str, float] = field(default_factory=dict)
    ticks: int = 0
    bar: float = 0.0
    mm: float = 150.0

    def mark(self, name: str, offset_s: float = 0.0) -> None:
        self.times[name] = self.ticks * STEP_S + offset_s

    def to(
        self,
        bar: float,
        seconds: float,
        *,
        mm: float | None = None,
        opening_bar: float = 0.0,
        shape: str = "straight",
    ) -> None:
        """Go to this closing pressure (and carriage position) within the time."""
        n = max(1, _tick(seconds))
        share = np.arange(1, n + 1) / n
        self.closing.append(self.bar + (bar - self.bar) * _shaped(share, shape, seconds))
        self.opening.append(np.full(n, opening_bar))
        there_mm = self.mm if mm is None else mm
        self.carriage.append(self.mm + (there_mm - self.mm) * share)
        self.ticks, self.bar, self.mm = self.ticks + n, bar, there_mm

    def hold(self, seconds: float, *, mm: float | None = None, opening_bar: float = 0.0) -> None:
        if seconds > 0.0:
            self.to(self.bar, seconds, mm=mm, opening_bar=opening_bar)

    def in_two_goes(self, bar: float, seconds: float, *, mm: float | None = None) -> None:
        """Most of the way, a pause, and the rest: a hand on a lever. The first knee is the onset."""
        first = self.bar + (bar - self.bar) * self.rng.uniform(*STEPPED_AT)
        self.to(first, 0.5 * seconds, mm=mm, shape=self.any_shape())
        self.hold(self.rng.uniform(*PAUSE_S))
        self.to(bar, 0.5 * seconds, shape=self.any_shape())

    def any_shape(self) -> str:
        return self.rng.choice(("straight", "rounded", "exponential"))


def _shaped(share: Curve, shape: str, seconds: float) -> Curve:
    if shape == "exponential":
        return np.asarray((1.0 - np.exp(-4.0 * share)) / (1.0 - math.exp(-4.0)))
    if shape == "rounded":
        # Speed rises and falls evenly: the first departure lies half of that before the straight line's knee.
        gathers = min(0.2, ROUNDING_S / seconds)
        speed = np.minimum(1.0, np.minimum(share, 1.0 - share + share[0]) / gathers)
        return np.asarray(np.cumsum(speed) / np.sum(speed))
    return share


def _tick(seconds: float) -> int:
    return round(seconds / STEP_S)


def _array(curve: Curve) -> "array[float]":
    return array("d", np.ascontiguousarray(curve, dtype=np.float64).tobytes())


def _stroke(pen: _Pen, scenario: Scenario, to_mm: float, seconds: float) -> None:
    """A closing stroke at drag, after its breakaway; where it sticks, in teeth, the carriage jerking."""
    rig = scenario.rig
    pen.to(rig.breakaway_bar, pen.rng.uniform(0.1, 0.3))
    pen.to(rig.drag_bar, pen.rng.uniform(0.05, 0.2))
    teeth = int(seconds / pen.rng.uniform(0.4, 1.2)) if rig.stick_slip_bar else 0
    from_mm = pen.mm
    for tooth in range(teeth):
        tooth_s = seconds / teeth
        pen.to(rig.drag_bar + pen.rng.uniform(0.3, 1.0) * rig.stick_slip_bar, 0.8 * tooth_s)
        pen.to(rig.drag_bar, 0.2 * tooth_s, mm=from_mm + (to_mm - from_mm) * (tooth + 1) / teeth)
    if not teeth:
        pen.hold(seconds, mm=to_mm)


def _open(pen: _Pen, scenario: Scenario, to_mm: float, seconds: float) -> None:
    opening_bar = scenario.rig.drag_bar * scenario.rig.piston_area_mm2 / scenario.rig.opening_area_mm2
    pen.hold(seconds, mm=to_mm, opening_bar=opening_bar * pen.rng.uniform(0.8, 1.3))


def _prepare(pen: _Pen, scenario: Scenario, intent: Intent) -> None:
    rng, rig, operator = pen.rng, scenario.rig, scenario.operator
    pen.hold(operator.idle_s)
    _stroke(pen, scenario, 60.0, rng.uniform(4.0, 8.0))
    pen.to(0.0, 0.4)
    _open(pen, scenario, 150.0, rng.uniform(1.5, 3.0))
    pen.hold(operator.facer_handling_s)
    _stroke(pen, scenario, rig.facer_thickness_mm, rng.uniform(2.0, 4.0))
    pen.to(rig.drag_bar + operator.facing_share * (intent.joining_bar - rig.drag_bar), 0.5)
    pen.hold(operator.facing_s)
    pen.to(0.0, 0.5)
    _open(pen, scenario, 150.0, rng.uniform(1.5, 3.0))
    pen.hold(operator.facer_handling_s)
    _stroke(pen, scenario, 0.0, rng.uniform(2.0, 4.0))
    pen.to(intent.joining_bar, 1.0, shape=pen.any_shape())
    pen.hold(operator.alignment_s)
    pen.to(0.0, 0.5)
    _open(pen, scenario, OPENED_MM + rig.plate_thickness_mm, rng.uniform(0.8, 1.5))
    pen.hold(operator.plate_handling_s)
    pen.mark("plate_in")
    pen.hold(3.0)


def _heat(pen: _Pen, scenario: Scenario, intent: Intent) -> None:
    rng = pen.rng
    plate_mm = scenario.rig.plate_thickness_mm
    _stroke(pen, scenario, plate_mm, rng.uniform(1.5, 4.0))
    pen.mark("bead_up")
    rise_s = min(rng.uniform(0.4, 2.0), intent.bead_up_s / 4.0)
    pen.to(intent.bead_up_bar, rise_s, shape=pen.any_shape())
    _sagging(pen, scenario, pen.ticks + _tick(intent.bead_up_s - rise_s), plate_mm - rng.uniform(0.3, 1.5))
    pen.mark("heat_soak")
    pen.to(intent.soak_bar, scenario.operator.let_down_s, shape=pen.any_shape())
    reaction_s = rng.uniform(0.05, 0.25)
    pen.hold(intent.soak_s - scenario.operator.let_down_s - reaction_s)
    # The closing side is vented and the opening side builds up before anything moves.
    opening_bar = scenario.rig.drag_bar * rng.uniform(0.6, 1.1)
    pen.to(0.0, reaction_s, opening_bar=0.5 * opening_bar)


def _change_over(pen: _Pen, scenario: Scenario, intent: Intent) -> None:
    rng, rig = pen.rng, scenario.rig
    pen.mark("changeover")
    open_s = rng.uniform(0.6, 1.0)
    _open(pen, scenario, OPENED_MM, open_s)
    closing_s = rng.uniform(0.9, 1.3)
    wait_s = max(0.2, intent.changeover_s - open_s - closing_s - 0.4)
    pen.mark("plate_out", 0.6 * wait_s)
    pen.hold(wait_s)
    pen.to(rig.breakaway_bar, 0.2)
    pen.to(rig.drag_bar, 0.2)
    pen.hold(closing_s, mm=0.0)
    pen.mark("pressure_build_up")


def _weld(pen: _Pen, scenario: Scenario, intent: Intent) -> None:
    rng, rig = pen.rng, scenario.rig
    edge_bar = min(intent.band_edge_bar, intent.joining_bar)
    slope = (edge_bar - rig.drag_bar) / intent.build_up_s
    first = pen.ticks
    pen.to(
        intent.peak_bar, (intent.peak_bar - rig.drag_bar) / slope, shape=rng.choice(("straight", "rounded"))
    )
    entered = np.flatnonzero(pen.closing[-1] >= intent.band_edge_bar)
    pen.times["cooling"] = (first + int(entered[0])) * STEP_S if len(entered) else pen.ticks * STEP_S
    if intent.peak_bar > intent.joining_bar:
        pen.to(intent.joining_bar, rng.uniform(0.8, 2.0), shape=pen.any_shape())
    end_s = pen.times["cooling"] + intent.cooling_s
    lost = scenario.faults("pressure_lost")
    if intent.first_stage_s:
        pen.hold(pen.times["cooling"] + intent.first_stage_s - pen.ticks * STEP_S)
        pen.to(intent.second_bar, scenario.operator.let_down_s, shape=pen.any_shape())
    elif lost:
        pen.hold(pen.times["cooling"] + lost[0].after_s - pen.ticks * STEP_S)
        left_bar = intent.joining_bar - (scenario.gauge_bar(lost[0].magnitude) - rig.drag_bar)
        pen.to(left_bar, lost[0].duration_s, shape=pen.any_shape())
    elif rig.leak_down_bar_per_min:
        _leak(pen, scenario, end_s)
    pen.hold(end_s - pen.ticks * STEP_S, mm=-rng.uniform(0.5, 1.5))
    pen.mark("end")
    if rng.random() < 0.25:
        pen.in_two_goes(0.0, scenario.operator.release_s)
    else:
        pen.to(0.0, scenario.operator.release_s, shape=pen.any_shape())
    pen.hold(scenario.operator.tail_s)


def _sagging(pen: _Pen, scenario: Scenario, until: int, to_mm: float) -> None:
    """Held while a bead grows: steady, or sagging and made up again and again."""
    held_bar = pen.bar
    room_bar = scenario.gauge_bar(scenario.targets.joining_tolerance_MPa) - scenario.rig.drag_bar
    sags_s = pen.rng.choice((0.0, 2.0, 5.0))
    while sags_s and pen.ticks + _tick(sags_s + 0.5) < until:
        pen.to(held_bar - SAGS_SHARE * room_bar, sags_s)
        pen.to(held_bar, 0.3)
    pen.hold((until - pen.ticks) * STEP_S, mm=to_mm)


def _leak(pen: _Pen, scenario: Scenario, end_s: float) -> None:
    """Falls evenly and is topped up, as often as there is time for."""
    rig, held_bar = scenario.rig, pen.bar
    falls_s = max(3.0, 60.0 * rig.top_up_threshold_bar / rig.leak_down_bar_per_min)
    while pen.ticks * STEP_S + falls_s + 1.0 < end_s:
        pen.to(held_bar - rig.leak_down_bar_per_min / 60.0 * falls_s, falls_s)
        pen.to(held_bar, 0.2)


def _plate(scenario: Scenario, intent: Intent, rng: random.Random, times: dict[str, float], n: int) -> Curve:
    """Setting, a swing, and a dip on contact that recovers."""
    t_s = np.arange(n) * STEP_S
    turn = t_s / rng.uniform(40.0, 120.0)
    # A relay's heat rises faster than it goes: a saw with uneven flanks, or what a slow plate makes of it.
    rises = rng.uniform(0.2, 0.5)
    saw = np.where(turn % 1.0 < rises, turn % 1.0 / rises, (1.0 - turn % 1.0) / (1.0 - rises)) - 0.5
    swing = scenario.plate.hysteresis_degC * rng.choice((saw, 0.5 * np.sin(2.0 * math.pi * turn)))
    since_s = np.maximum(0.0, t_s - times["bead_up"])
    dip = since_s / 6.0 * np.exp(1.0 - since_s / 6.0) * scenario.plate.contact_dip_degC
    return np.asarray(intent.plate_setting_degC + swing - dip)
