"""What part of the joint the curves show, and the plan laid out over it. Pure."""

import math
from dataclasses import dataclass

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import PHASES, Phase
from tui.dots import Piece

SPANS_S = (60.0, 120.0, 300.0, 600.0, 1200.0)
DEFAULT_SPAN_S = 300.0
_TURN_AT = 0.85
_BACK_TO = 0.35
_NICE = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_TICKS_S = (5, 10, 15, 30, 60, 120, 300, 600, 1200)
_LABEL_EVERY = 10
"""Columns between two times at least."""
_AHEAD_S = 120.0
"""How far a stretch without a planned time is drawn ahead."""

PhaseTimes = list[tuple[Phase, float, float | None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeSpan:
    from_s: float
    to_s: float

    @property
    def length_s(self) -> float:
        return self.to_s - self.from_s


def turned(span: TimeSpan | None, now_s: float, length_s: float) -> TimeSpan:
    """Return the span that shows `now_s`: the same one until it is nearly full, then one further on.

    Turning pages instead of sliding leaves nearly all cells as they are between two redraws.
    """
    if span is not None and span.length_s == length_s:
        share = (now_s - span.from_s) / length_s
        if 0 <= share <= _TURN_AT:
            return span
    # Whole tenths of the span, so that the labels are round.
    tick_s = length_s / 10
    from_s = max(math.floor((now_s - _BACK_TO * length_s) / tick_s) * tick_s, 0.0)
    return TimeSpan(from_s=from_s, to_s=from_s + length_s)


def pieces_of(plan: JointPlan | None, phases: PhaseTimes, now_s: float) -> tuple[Piece, ...]:
    """The gauge limits of the plan behind and ahead of now, where they are known."""
    if plan is None:
        return ()
    pieces: list[Piece] = []
    at_s = now_s
    for phase, start_s, end_s in phases:
        until_s = end_s if end_s is not None else max(start_s + _planned_s(plan, phase), now_s)
        pieces += _pieces(plan, phase, start_s, until_s)
        at_s = until_s
    if phases and phases[-1][2] is None:
        for phase in PHASES[PHASES.index(phases[-1][0]) + 1 :]:
            until_s = at_s + _planned_s(plan, phase)
            pieces += _pieces(plan, phase, at_s, until_s)
            at_s = until_s
    # Rounded, so that a redraw of the same limits is recognised as the same.
    return tuple(Piece(from_s=round(p.from_s), to_s=round(p.to_s), low=p.low, high=p.high) for p in pieces)


def plate_pieces(plan: JointPlan | None, span: TimeSpan) -> tuple[Piece, ...]:
    if plan is None:
        return ()
    band = plan.plate_temperature_degC
    return (Piece(from_s=span.from_s, to_s=span.to_s, low=band.min, high=band.max),)


def nice_top(value: float) -> float:
    """The round number at or above."""
    if value <= 0:
        return 1.0
    power: float = 10.0 ** math.floor(math.log10(value))
    steps = (step * power for step in _NICE if value <= step * power * (1 + 1e-9))
    return next(steps, _NICE[-1] * power)


def time_labels(span: TimeSpan, width: int, zero_s: float) -> str:
    """A line of round times, minutes and seconds after `zero_s`, over `width` columns."""
    line = [" "] * width
    per_s = width / span.length_s
    step_s = next((step for step in _TICKS_S if step * per_s >= _LABEL_EVERY), _TICKS_S[-1])
    for k in range(math.ceil((span.from_s - zero_s) / step_s), math.floor((span.to_s - zero_s) / step_s) + 1):
        at_s = k * step_s
        text = f"{'-' if at_s < 0 else ''}{abs(at_s) // 60}:{abs(at_s) % 60:02d}"
        column = round((zero_s + at_s - span.from_s) * per_s)
        if column + len(text) <= width:
            line[column : column + len(text)] = text
    return "".join(line)


def _planned_s(plan: JointPlan, phase: Phase) -> float:
    total = 0.0
    for step in plan.steps_of(phase):
        band = step.duration_s
        planned = next((v for v in (band.min, band.target, band.max) if v is not None), None)
        total += _AHEAD_S if planned is None else planned
    return total


def _pieces(plan: JointPlan, phase: Phase, from_s: float, to_s: float) -> list[Piece]:
    pieces = []
    steps = plan.steps_of(phase)
    at_s = from_s
    for step in steps:
        until_s = to_s if step is steps[-1] else min(at_s + (step.duration_s.min or 0.0), to_s)
        band = step.gauge_pressure_bar
        if band.min is not None or band.max is not None:
            pieces.append(Piece(from_s=at_s, to_s=until_s, low=band.min, high=band.max))
        at_s = until_s
    return pieces
