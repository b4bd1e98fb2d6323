"""A curve in braille cells between the limits of its plan; only cells that changed are drawn again."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray
from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from tui.dots import BLANK, Frame, Piece, codes_of, curve_dots, limit_dots
from tui.series import Series

LABEL = 6
"""Columns left of the curve, for the values of the axis."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Values from top to bottom, evenly spread, and the unit, which stands under the first of them."""

    labels: tuple[str, ...] = ()
    unit: str = ""


_NOTHING, _LIMIT, _CURVE = 0, 1, 2
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
        self._frame: Frame | None = None
        self._cells: NDArray[np.int32] = np.zeros((0, 0), dtype=np.int32)
        self._limits_for: tuple[Frame, tuple[Piece, ...]] | None = None
        self._limits = np.zeros((0, 0), dtype=np.bool_)
        self._axis = Axis()
        self.cells_drawn = 0
        """Cells sent since the start: what the benchmark counts."""

    @property
    def cell_size(self) -> tuple[int, int]:
        """Columns and rows of the curve itself."""
        size: Size = self.size
        return max(size.width - LABEL, 1), max(size.height, 1)

    def draw(self, series: Series, pieces: tuple[Piece, ...], frame: Frame, axis: Axis) -> None:
        """Show this part of the series."""
        t_s, value = series.between(frame.from_s, frame.to_s)
        curve = curve_dots(t_s, value, frame, series.gap_s())
        if self._limits_for != (frame, pieces):
            self._limits, self._limits_for = limit_dots(pieces, frame), (frame, pieces)
        own = codes_of(curve)
        codes = own | codes_of(self._limits & ~curve)
        kind = np.where(own != BLANK, _CURVE, np.where(codes != BLANK, _LIMIT, _NOTHING))
        cells = codes | (kind << 16).astype(np.int32)
        self._show(cells, axis)
        self._frame = frame

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
        label = Segment(f"{self._label_at(y, rows):>{LABEL - 1}}│", line)
        return Strip([label, *_segments(self._cells[y], styles)], LABEL + columns)

    def _label_at(self, y: int, rows: int) -> str:
        labels = self._axis.labels
        if not labels or rows < len(labels):
            return labels[0] if labels and y == 0 else ""
        at = {round(k * (rows - 1) / max(len(labels) - 1, 1)): label for k, label in enumerate(labels)}
        return at.get(y, self._axis.unit if y == 1 else "")


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
