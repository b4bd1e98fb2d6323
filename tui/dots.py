"""Curves and limits as dots, dots as braille characters: pure arithmetic on arrays.

A grid of dots has 4 rows and 2 columns to a character cell; row 0 is the top.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tui.series import Floats

Dots = NDArray[np.bool_]
Codes = NDArray[np.int32]

BLANK = 0x2800
_WEIGHTS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.int32)
"""Unicode, block Braille Patterns: which bit is which dot."""
_LIMIT_STEP = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What part of the world the cells show: times in s, values in the unit of the curve."""

    from_s: float
    to_s: float
    low: float
    high: float
    columns: int
    rows: int

    @property
    def width(self) -> int:
        return 2 * self.columns

    @property
    def height(self) -> int:
        return 4 * self.rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A stretch of the plan: its limits from one time to another, None where there is none."""

    from_s: float
    to_s: float
    low: float | None
    high: float | None


def curve_dots(t_s: Floats, value: Floats, frame: Frame, gap_s: float) -> Dots:
    """Every column from the least to the greatest the curve has in it; nothing where there is a gap."""
    grid: Dots = np.zeros((frame.height, frame.width), dtype=np.bool_)
    if len(t_s) == 0:
        return grid
    edges = np.linspace(frame.from_s, frame.to_s, frame.width + 1)
    after = np.searchsorted(t_s, edges, side="right")
    crossing = _at_edges(t_s, value, edges, after, gap_s)
    low = np.fmin(crossing[:-1], crossing[1:])
    high = np.fmax(crossing[:-1], crossing[1:])
    filled = np.flatnonzero(after[1:] > after[:-1])
    if len(filled):
        # Columns without a reading have no share of their own: the readings of filled ones are contiguous.
        first, last = after[filled[0]], after[filled[-1] + 1]
        starts = after[filled] - first
        low[filled] = np.fmin(low[filled], np.minimum.reduceat(value[first:last], starts))
        high[filled] = np.fmax(high[filled], np.maximum.reduceat(value[first:last], starts))
    seen = ~np.isnan(low)
    top = _row(np.where(seen, high, 0.0), frame)
    bottom = _row(np.where(seen, low, 0.0), frame)
    row = np.arange(frame.height)[:, None]
    np.logical_and(row >= top, row <= bottom, out=grid)
    grid &= seen & (bottom >= 0) & (top < frame.height)
    return grid


def _at_edges(t_s: Floats, value: Floats, edges: Floats, after: NDArray[np.intp], gap_s: float) -> Floats:
    """The line between two neighbouring readings where it crosses a column's edge; NaN in a gap."""
    inside = (after > 0) & (after < len(t_s))
    right = np.clip(after, 1, max(len(t_s) - 1, 1))
    if len(t_s) < 2:
        return np.full(len(edges), np.nan)
    left = right - 1
    span = t_s[right] - t_s[left]
    share = (edges - t_s[left]) / span
    crossing = value[left] + share * (value[right] - value[left])
    return np.where(inside & (span <= gap_s), crossing, np.nan)


def limit_dots(pieces: tuple[Piece, ...], frame: Frame) -> Dots:
    """The limits of the plan as dotted lines."""
    grid: Dots = np.zeros((frame.height, frame.width), dtype=np.bool_)
    per_s = frame.width / (frame.to_s - frame.from_s)
    for piece in pieces:
        first = max(round((piece.from_s - frame.from_s) * per_s), 0)
        last = min(round((piece.to_s - frame.from_s) * per_s), frame.width)
        for limit in (piece.low, piece.high):
            if limit is not None and frame.low <= limit <= frame.high:
                row = int(_row(np.array([limit]), frame)[0])
                columns = np.arange(first, last)
                grid[row, columns[columns % _LIMIT_STEP == 0]] = True
    return grid


def codes_of(dots: Dots) -> Codes:
    """Character codes, one per cell."""
    height, width = dots.shape
    cells = dots.reshape(height // 4, 4, width // 2, 2)
    codes: Codes = np.einsum("rdcw,dw->rc", cells.astype(np.int32), _WEIGHTS) + BLANK
    return codes


def _row(value: Floats, frame: Frame) -> NDArray[np.int64]:
    """The row of dots of each value; beyond the frame it lies outside 0 to height - 1."""
    scaled = (frame.high - value) / (frame.high - frame.low) * (frame.height - 1)
    rows: NDArray[np.int64] = np.rint(scaled).astype(np.int64)
    return rows
