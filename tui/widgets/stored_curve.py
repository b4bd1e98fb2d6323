"""The curve of a joint of the record over its plan, and a second one over it."""

import numpy as np

from logger.domain.phase import Phase
from logger.wording.units import Units
from tui.axes import PhaseTimes, TimeSpan, nice_top, pieces_of, time_labels
from tui.dots import Frame, Piece
from tui.series import Series
from tui.stored import StoredJoint
from tui.widgets.canvas import LABEL, Axis, Canvas

_HEADROOM = 1.3
_WHOLE_FROM = 20.0
_ROOM_S = 30.0
"""Shown before bead-up and after the release."""


def draw_stored(canvas: Canvas, units: Units, first: StoredJoint, second: StoredJoint | None = None) -> str:
    """Draw; return the line of times that belongs below, counted from the start of bead-up."""
    if not canvas.size:
        return ""
    shift_s = zero_s(first.phases)
    span = _span(first.pressure, first.phases)
    pieces = () if second is not None else pieces_of(first.plan, first.phases, span.to_s)
    canvas.over = None if second is None else moved(second.pressure, shift_s - zero_s(second.phases))
    draw_curve(canvas, units, span, first.pressure, pieces)
    return times_line(canvas, span, shift_s)


def draw_curve(
    canvas: Canvas, units: Units, span: TimeSpan, series: Series, pieces: tuple[Piece, ...]
) -> None:
    """Draw one pressure curve between its limits."""
    per_bar = units.gauge_of(1.0)
    top = nice_top(max(_greatest(series, pieces, span) * per_bar * _HEADROOM, 1.0))
    columns, rows = canvas.cell_size
    frame = Frame(
        from_s=span.from_s, to_s=span.to_s, low=-0.02 * top / per_bar, high=top / per_bar,
        columns=columns, rows=rows,
    )  # fmt: skip
    axis = Axis(high=top, digits=0 if top >= _WHOLE_FROM else 1, unit=units.pressure)
    canvas.draw(series, pieces, frame, axis)


def times_line(canvas: Canvas, span: TimeSpan, zero: float) -> str:
    return " " * LABEL + time_labels(span, canvas.cell_size[0], zero)


def zero_s(phases: PhaseTimes) -> float:
    """The start of bead-up, where it was seen."""
    return next((start_s for phase, start_s, _ in phases if phase is Phase.BEAD_UP), 0.0)


def moved(series: Series, by_s: float) -> Series:
    """The same curve at another time."""
    other = Series()
    for t_s, value in zip(series.t_s.tolist(), series.value.tolist(), strict=True):
        other.append(t_s + by_s, value)
    return other


def _span(series: Series, phases: PhaseTimes) -> TimeSpan:
    last_s = float(series.t_s[-1]) if len(series) else 1.0
    ends = [end_s for _, _, end_s in phases if end_s is not None]
    from_s = max(phases[0][1] - _ROOM_S, 0.0) if phases else 0.0
    to_s = min(max(ends) + _ROOM_S, last_s) if ends else last_s
    return TimeSpan(from_s=from_s, to_s=max(to_s, from_s + 1.0))


def _greatest(series: Series, pieces: tuple[Piece, ...], span: TimeSpan) -> float:
    """The plan's greatest limit, so that an opening stroke at relief pressure leaves the frame."""
    greatest = max((piece.high or 0.0 for piece in pieces), default=0.0)
    _, shown = series.between(span.from_s, span.to_s)
    return greatest or (float(np.quantile(shown, 0.99)) if len(shown) else 0.0)
