"""A figure in the cells of a terminal, two by four dots each."""

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from logger.domain.figure import Figure, Panel

DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of a braille cell from its top, left and right (Unicode, block Braille Patterns)."""
LABEL = 9
SHARES = {1: (1.0,), 2: (0.65, 0.35)}


def figure_lines(figure: Figure, columns: int, rows: int) -> list[str]:
    """Draw every panel over one time axis; the plan's edges are dotted, gaps stay empty."""
    lines = [figure.title]
    width = max(columns - LABEL, 10)
    for panel, share in zip(figure.panels, SHARES[len(figure.panels)], strict=True):
        cells = _Cells(figure, panel, width, max(int(rows * share), 3))
        cells.draw()
        lines += [f"{panel.title}, {panel.unit}", *cells.lines()]
    left, right = f"{figure.start_s:.0f} s", f"{figure.end_s:.0f} s"
    lines.append(" " * LABEL + left + right.rjust(width - len(left)))
    return lines


class _Cells:
    """The cells of one panel, `width` by `height`."""

    def __init__(self, figure: Figure, panel: Panel, width: int, height: int) -> None:
        values = [value for curve in panel.curves for piece in curve.pieces for _, value in piece]
        values += [edge for c in panel.corridors for edge in (c.low, c.high) if edge is not None]
        self._low, self._high = (min(values), max(values)) if values else (0.0, 1.0)
        self._start_s, self._span_s = figure.start_s, max(figure.end_s - figure.start_s, 1e-9)
        self._panel, self._width, self._height = panel, width, height
        self._bits: dict[tuple[int, int], int] = defaultdict(int)

    def draw(self) -> None:
        for curve in self._panel.curves:
            for piece in curve.pieces:
                self._line([self._place(t_s, value) for t_s, value in piece])
        for corridor in self._panel.corridors:
            for edge in (corridor.low, corridor.high):
                if edge is not None:
                    self._dotted(corridor.start_s, corridor.end_s, edge)

    def lines(self) -> Iterator[str]:
        for row in range(self._height):
            label = {0: f"{self._high:z8.1f} ", self._height - 1: f"{self._low:z8.1f} "}.get(row, " " * LABEL)
            cells = (chr(0x2800 + self._bits[row, column]) for column in range(self._width))
            yield label + "".join(cells).rstrip("\u2800")

    def _place(self, t_s: float, value: float) -> tuple[float, float]:
        x = (t_s - self._start_s) / self._span_s * (2 * self._width - 1)
        return x, (self._high - value) / ((self._high - self._low) or 1.0) * (4 * self._height - 1)

    def _line(self, points: list[tuple[float, float]]) -> None:
        for (x, y), (x_next, y_next) in pairwise(points if len(points) > 1 else points * 2):
            steps = int(max(abs(x_next - x), abs(y_next - y))) + 1
            for k in range(steps + 1):
                self._dot(x + (x_next - x) * k / steps, y + (y_next - y) * k / steps)

    def _dotted(self, start_s: float, end_s: float, value: float) -> None:
        step_s = 2 * self._span_s / self._width
        for k in range(int((end_s - start_s) / step_s) + 1):
            self._dot(*self._place(start_s + k * step_s, value))

    def _dot(self, x: float, y: float) -> None:
        column, row = round(x), round(y)
        if 0 <= column < 2 * self._width:
            self._bits[row // 4, column // 2] |= DOTS[row % 4][column % 2]
