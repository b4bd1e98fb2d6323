"""A curve in braille cells between the limits of its plan; only cells that changed are drawn again."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray
from rich.segment import Segment
from rich.style import Style
from textual.events import Resize
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from tui.dots import BLANK, Frame, Piece, codes_of, curve_dots, limit_dots
from tui.numbers import number
from tui.series import Series

LABEL = 6
"""Columns left of the curve, for the values of the axis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Values at the foot and the top, how they are written, and the unit, which stands under the top."""

    low: float = 0.0
    high: float = 1.0
    digits: int = 0
    unit: str = ""

    def labels(self, rows: int) -> dict[int, str]:
        """What stands beside which row."""
        count = 3 if rows >= _ROWS_FOR_THREE else 2
        labels = {1: self.unit}
        for k in range(count):
            value = self.high - (self.high - self.low) * k / (count - 1)
            labels[round(k * (rows - 1) / (count - 1))] = number(value, self.digits)
        return labels


_NOTHING, _LIMIT, _CURVE = 0, 1, 2
_ROWS_FOR_THREE = 5
_DOTTED = 2
_JOIN = 12
"""Changes nearer than this many cells are sent as one: a cursor jump costs about as much as they do."""


class Canvas(Widget):
    """One curve with its axis. `draw` is called for each update; it costs what has changed."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"canvas--curve", "canvas--limit", "canvas--axis"}
    DEFAULT_CSS = """
    Canvas { height: 1fr; }
    Canvas > .canvas--curve { color: $primary; text-style: bold; }
    Canvas > .canvas--limit { color: $secondary; }
    Canvas > .canvas--axis { color: $foreground; }
    """

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._drawing: tuple[Series, tuple[Piece, ...], Frame, Axis] | None = None
        self._cells: NDArray[np.int32] = np.zeros((0, 0), dtype=np.int32)
        self._limits_for: tuple[Frame, tuple[Piece, ...]] | None = None
        self._limits = np.zeros((0, 0), dtype=np.bool_)
        self._axis = Axis()
        self.over: Series | None = None
        """A second curve, drawn dotted."""
        self.cells_drawn = 0
        """Cells sent since the start: what the benchmark counts."""

    @property
    def cell_size(self) -> tuple[int, int]:
        """Columns and rows of the curve itself."""
        size: Size = self.size
        return max(size.width - LABEL, 1), max(size.height, 1)

    def draw(self, series: Series, pieces: tuple[Piece, ...], frame: Frame, axis: Axis) -> None:
        """Show this part of the series."""
        self._drawing = (series, pieces, frame, axis)
        t_s, value = series.between(frame.from_s, frame.to_s)
        curve = curve_dots(t_s, value, frame, series.gap_s())
        if self._limits_for != (frame, pieces):
            self._limits, self._limits_for = limit_dots(pieces, frame), (frame, pieces)
        limits = self._limits
        if self.over is not None:
            t_s, value = self.over.between(frame.from_s, frame.to_s)
            second = curve_dots(t_s, value, frame, self.over.gap_s())
            second[:, np.arange(frame.width) % _DOTTED == 0] = False
            limits = limits | second
        own = codes_of(curve)
        codes = own | codes_of(limits & ~curve)
        kind = np.where(own != BLANK, _CURVE, np.where(codes != BLANK, _LIMIT, _NOTHING))
        cells = codes | (kind << 16).astype(np.int32)
        self._show(cells, axis)

    def on_resize(self, _: Resize) -> None:
        """Draw the same in the new room."""
        if self._drawing is not None:
            series, pieces, frame, axis = self._drawing
            columns, rows = self.cell_size
            self.draw(series, pieces, replace(frame, columns=columns, rows=rows), axis)

    def _show(self, cells: NDArray[np.int32], axis: Axis) -> None:
        before, self._cells = self._cells, cells
        if before.shape != cells.shape or axis != self._axis:
            self._axis = axis
            self.cells_drawn += cells.size
            self.refresh()
            return
        regions = list(_changed(before, cells))
        if regions:
            self.cells_drawn += sum(region.area for region in regions)
            self.refresh(*regions)

    def render_line(self, y: int) -> Strip:
        rows, columns = self._cells.shape
        if y >= rows:
            return Strip.blank(self.size.width, self.rich_style)
        line = self.get_component_rich_style("canvas--axis")
        styles = {
            _NOTHING: self.rich_style,
            _LIMIT: self.get_component_rich_style("canvas--limit"),
            _CURVE: self.get_component_rich_style("canvas--curve"),
        }
        label = Segment(f"{self._axis.labels(rows).get(y, ''):>{LABEL - 1}}│", line)
        return Strip([label, *_segments(self._cells[y], styles)], LABEL + columns)


def _segments(row: NDArray[np.int32], styles: dict[int, Style]) -> Iterator[Segment]:
    for kind, run in groupby(row.tolist(), key=lambda cell: cell >> 16):
        yield Segment("".join(map(_sign, run)), styles[kind])


def _sign(cell: int) -> str:
    code = cell & 0xFFFF
    return " " if code == BLANK else chr(code)


def _changed(before: NDArray[np.int32], after: NDArray[np.int32]) -> Iterator[Region]:
    """Regions of cells that differ, a row at a time, neighbours joined."""
    different = before != after
    for y in np.flatnonzero(different.any(axis=1)).tolist():
        columns = np.flatnonzero(different[y])
        for part in np.split(columns, np.flatnonzero(np.diff(columns) > _JOIN) + 1):
            yield Region(LABEL + int(part[0]), y, int(part[-1] - part[0]) + 1, 1)
