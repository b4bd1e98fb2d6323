"""A figure drawn once, as vectors; SVG, PDF and PNG are the same drawing."""

import math
from collections.abc import Iterator, Sequence
from io import BytesIO

import pypdfium2
from reportlab.graphics import renderPDF, renderSVG
from reportlab.graphics.shapes import Drawing, Group, Line, PolyLine, Rect, String
from reportlab.lib.colors import Color, HexColor, black, white
from reportlab.pdfgen.canvas import Canvas

from logger.domain.figure import Curve, Figure, Panel
from logger.export.fonts import BOLD, PLAIN, register_fonts

LEFT, RIGHT, TOP, BOTTOM, BETWEEN = 34.0, 6.0, 24.0, 24.0, 16.0
SHARES = {1: (1.0,), 2: (0.62, 0.38)}
GRID, CORRIDOR, EDGE = HexColor(0xD9D9D9), HexColor(0xE4EEDF), HexColor(0x5B7F4B)
INKS = (HexColor(0x10386B), HexColor(0xA3470A), HexColor(0x5A1A6B), HexColor(0x0B6B5A))
DASHES: tuple[list[int] | None, ...] = (None, [4, 2], [1, 1.5], [6, 2, 1, 2])  # type: ignore[list-item]
HEADROOM = 0.2
"""Of the range, above the highest point: the phases' names stand there."""
LONG_S = 300.0
"""A time axis longer than this counts in minutes."""
PIXELS_PER_INCH, POINTS_PER_INCH = 144, 72


def figure_drawing(figure: Figure, width: float, height: float) -> Drawing:
    """Draw `figure` on `width` x `height` points. Curves differ by dash as well as by ink."""
    register_fonts()
    drawing = Drawing(width, height)
    drawing.add(Rect(0, 0, width, height, fillColor=white, strokeColor=None))
    drawing.add(String(LEFT, height - 9, figure.title, fontName=BOLD, fontSize=8))
    room = height - TOP - BOTTOM - BETWEEN * (len(figure.panels) - 1)
    top = height - TOP
    for panel, share in zip(figure.panels, SHARES[len(figure.panels)], strict=True):
        tall = room * share
        drawing.add(_Axes(figure, panel, (LEFT, top - tall, width - LEFT - RIGHT, tall)).drawn())
        top -= tall + BETWEEN
    drawing.add(_time_labels(figure, width))
    return drawing


def figure_svg(figure: Figure, width: float = 720.0, height: float = 420.0) -> bytes:
    text = renderSVG.drawToString(figure_drawing(figure, width, height))
    return text.encode() if isinstance(text, str) else bytes(text)


def figure_pdf(figure: Figure, width: float = 720.0, height: float = 420.0) -> bytes:
    """One page of the figure's size; the same figure gives the same bytes."""
    stream = BytesIO()
    register_fonts()
    canvas = Canvas(stream, pagesize=(width, height), invariant=True, initialFontName=PLAIN)
    canvas.setTitle(figure.title)
    renderPDF.draw(figure_drawing(figure, width, height), canvas, 0, 0)
    canvas.save()
    return stream.getvalue()


def figure_png(figure: Figure, width: float = 720.0, height: float = 420.0) -> bytes:
    document = pypdfium2.PdfDocument(figure_pdf(figure, width, height))
    try:
        picture = document[0].render(scale=PIXELS_PER_INCH / POINTS_PER_INCH).to_pil()
    finally:
        document.close()
    stream = BytesIO()
    picture.save(stream, format="PNG")
    return stream.getvalue()


class _Axes:
    """One panel in its box (x, y, width, height)."""

    def __init__(self, figure: Figure, panel: Panel, box: tuple[float, float, float, float]) -> None:
        self._figure, self._panel = figure, panel
        self._x, self._y, self._width, self._height = box
        self._low, self._high = _range(panel)
        self._span_s = max(figure.end_s - figure.start_s, 1e-9)

    def drawn(self) -> Group:
        group = Group()
        for corridor in self._corridors():
            group.add(corridor)
        for value in _ticks(self._low, self._high, 5):
            y = self._at(value)
            group.add(Line(self._x, y, self._x + self._width, y, strokeColor=GRID, strokeWidth=0.4))
            group.add(_label(self._x - 3, y - 2, f"{value:g}", anchor="end"))
        for seconds, _ in _time_ticks(self._figure):
            x = self._across(seconds)
            group.add(Line(x, self._y, x, self._y + self._height, strokeColor=GRID, strokeWidth=0.4))
        for number, curve in enumerate(self._panel.curves):
            for line in self._lines(curve, number):
                group.add(line)
        for shape in self._markers():
            group.add(shape)
        group.add(Rect(self._x, self._y, self._width, self._height, fillColor=None, strokeWidth=0.6))
        heading = f"{self._panel.title}, {self._panel.unit}"
        group.add(_label(self._x, self._y + self._height + 2.5, heading))
        for shape in self._legend():
            group.add(shape)
        return group

    def _across(self, t_s: float) -> float:
        return self._x + (t_s - self._figure.start_s) / self._span_s * self._width

    def _at(self, value: float) -> float:
        return self._y + (value - self._low) / (self._high - self._low) * self._height

    def _corridors(self) -> Iterator[Rect | Line]:
        for corridor in self._panel.corridors:
            start_s = max(corridor.start_s, self._figure.start_s)
            end_s = min(corridor.end_s, self._figure.end_s)
            if end_s <= start_s:
                continue
            x, x_end = self._across(start_s), self._across(end_s)
            low = self._low if corridor.low is None else corridor.low
            high = self._high if corridor.high is None else corridor.high
            y, y_top = self._at(max(low, self._low)), self._at(min(high, self._high))
            yield Rect(x, y, x_end - x, max(y_top - y, 0.0), fillColor=CORRIDOR, strokeColor=None)
            for edge in (corridor.low, corridor.high):
                if edge is not None and self._low <= edge <= self._high:
                    yield Line(x, self._at(edge), x_end, self._at(edge), strokeColor=EDGE, strokeWidth=0.6)

    def _lines(self, curve: Curve, number: int) -> Iterator[PolyLine]:
        column_s = self._span_s / (self._width * PIXELS_PER_INCH / POINTS_PER_INCH)
        ink, dash = INKS[number % len(INKS)], DASHES[number % len(DASHES)]
        for piece in curve.pieces:
            flat = [
                coordinate
                for t_s, value in thinned(piece, column_s)
                for coordinate in (round(self._across(t_s), 2), round(self._at(value), 2))
            ]
            if len(flat) == 2:
                flat += [flat[0] + 0.5, flat[1]]
            yield PolyLine(flat, strokeColor=ink, strokeWidth=0.7, strokeDashArray=dash, strokeLineJoin=1)

    def _markers(self) -> Iterator[Line | String]:
        """Names stand at the first panel only; one that would run into the one before stands lower."""
        is_first = self._panel is self._figure.panels[0]
        free_from, lower = self._x, 0.0
        for marker in self._figure.markers:
            x = self._across(marker.at_s)
            top = self._y + self._height
            yield Line(x, self._y, x, top, strokeColor=black, strokeWidth=0.5, strokeDashArray=[2, 2])
            if not is_first or marker.phase is None:
                continue
            name = marker.phase.value.replace("_up", "-up").replace("_", " ")
            lower = lower + 7.0 if x < free_from else 0.0
            yield _label(x + 2, top - 7 - lower, name)
            free_from = x + 4.0 + 3.6 * len(name)

    def _legend(self) -> Iterator[Line | String]:
        if len(self._panel.curves) < 2:
            return
        x, y = self._x + 0.45 * self._width, self._y + self._height + 4.5
        for number, curve in enumerate(self._panel.curves):
            ink, dash = INKS[number % len(INKS)], DASHES[number % len(DASHES)]
            yield Line(x, y, x + 14, y, strokeColor=ink, strokeWidth=1, strokeDashArray=dash)
            yield _label(x + 17, y - 2, curve.name)
            x += 24 + 3.6 * len(curve.name)


def thinned(piece: Sequence[tuple[float, float]], column_s: float) -> Iterator[tuple[float, float]]:
    """Keep of each column of the picture its first, least, greatest and last point, in order of time."""
    column: list[tuple[float, float]] = []
    number = -math.inf
    for point in piece:
        at = math.floor(point[0] / column_s)
        if at != number:
            yield from _corners(column)
            column, number = [], at
        column.append(point)
    yield from _corners(column)


def _corners(column: list[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    if len(column) <= 4:
        yield from column
        return
    value = {index: point[1] for index, point in enumerate(column)}
    kept = {0, min(value, key=value.__getitem__), max(value, key=value.__getitem__), len(column) - 1}
    yield from (column[index] for index in sorted(kept))


def _range(panel: Panel) -> tuple[float, float]:
    values = [value for curve in panel.curves for piece in curve.pieces for _, value in piece]
    values += [edge for c in panel.corridors for edge in (c.low, c.high) if edge is not None]
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    room = (high - low) or 1.0
    return low - 0.06 * room, high + HEADROOM * room


def _ticks(low: float, high: float, about: int) -> list[float]:
    """Round numbers inside [low, high], about so many."""
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1, 2, 5, 10) if power * m >= rough)
    first = math.ceil(low / step)
    return [round(k * step, 10) for k in range(first, math.floor(high / step) + 1)]


def _time_ticks(figure: Figure) -> list[tuple[float, str]]:
    unit_s = 60.0 if figure.end_s - figure.start_s > LONG_S else 1.0
    if figure.end_s <= figure.start_s:
        return []
    return [(v * unit_s, f"{v:g}") for v in _ticks(figure.start_s / unit_s, figure.end_s / unit_s, 12)]


def _time_labels(figure: Figure, width: float) -> Group:
    group = Group()
    room = width - LEFT - RIGHT
    span_s = max(figure.end_s - figure.start_s, 1e-9)
    for seconds, text in _time_ticks(figure):
        x = LEFT + (seconds - figure.start_s) / span_s * room
        group.add(_label(x, BOTTOM - 9, text, anchor="middle"))
    unit = "min" if figure.end_s - figure.start_s > LONG_S else "s"
    group.add(_label(LEFT + room, 4, f"time, {unit}", anchor="end"))
    return group


def _label(x: float, y: float, text: str, *, anchor: str = "start", ink: Color = black) -> String:
    return String(x, y, text, fontName=PLAIN, fontSize=6, textAnchor=anchor, fillColor=ink)
