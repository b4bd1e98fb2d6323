"""The joint as it is made: one glance."""

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical

from logger.domain.phase import Phase
from tui.axes import (
    DEFAULT_SPAN_S,
    SPANS_S,
    TimeSpan,
    nice_top,
    pieces_of,
    plate_pieces,
    time_labels,
    turned,
)
from tui.catalogue import label
from tui.dots import Frame, Piece
from tui.glance import Cue
from tui.model import PLATE, Picture
from tui.plate_words import heat_lines
from tui.screens.base import KEYS, KeyOffer, RoomScreen
from tui.screens.joint_keys import ask_clamps, ask_to_break_off, confirm_bead
from tui.widgets.canvas import LABEL, Axis, Canvas
from tui.widgets.figure import Figure
from tui.widgets.lines import Lines
from tui.words import (
    big_pressure,
    cautions_of,
    deviation_lines,
    head_line,
    health_lines,
    phase_line,
    plate_line,
    pressure_caption,
    troubles,
)

_PLATE_ROOM_DEGC = 10.0
_PLATE_BLIND = (0.0, 300.0)
_PLATE_OUT = (Phase.PRESSURE_BUILD_UP, Phase.COOLING)
_WHOLE_FROM = 20.0
_HEADROOM = 1.3
_BELOW = 0.02


class LiveScreen(RoomScreen):
    """Phase, time, pressure, the next action, curves over the plan, what deviates, what is out of order."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("b", "bead"),
        Binding("c", "clamps"),
        Binding("x", "abort"),
        Binding("z", "zoom"),
    ]
    DEFAULT_CSS = """
    LiveScreen { layers: base; }
    LiveScreen Lines { width: 1fr; height: 1; }
    LiveScreen #phase { text-style: bold reverse; }
    LiveScreen #glance { height: 6; }
    LiveScreen #glance Figure { height: 1fr; text-style: bold; }
    LiveScreen #glance Lines.under { text-align: center; }
    LiveScreen #action { height: auto; max-height: 3; text-style: bold; color: $primary; }
    LiveScreen #action.-flash { text-style: bold reverse; }
    LiveScreen #heat { height: auto; max-height: 3; text-style: bold; color: $secondary; }
    LiveScreen #cautions { height: auto; max-height: 5; text-style: bold; color: $warning; }
    LiveScreen #deviations { height: auto; max-height: 3; text-style: bold; color: $error; }
    LiveScreen #pressure-curve { height: 2fr; min-height: 3; }
    LiveScreen #plate-curve { height: 1fr; min-height: 2; }
    LiveScreen #health { height: auto; max-height: 3; }
    LiveScreen #health.-wrong { text-style: bold reverse; }
    LiveScreen #notice { height: auto; max-height: 2; text-style: bold; }
    LiveScreen #keys { height: auto; max-height: 2; dock: bottom; }
    LiveScreen #pressure-line { display: none; }
    LiveScreen.-middle.-plate-out #plate-curve { display: none; }
    LiveScreen.-tall #glance { height: 11; }
    LiveScreen.-tall.-wide #clock { width: 2fr; }
    LiveScreen.-low #head, LiveScreen.-low #cautions, LiveScreen.-low Canvas, LiveScreen.-low #plate,
    LiveScreen.-low #times { display: none; }
    LiveScreen.-low #deviations, LiveScreen.-low #keys { max-height: 1; }
    LiveScreen.-low #health { max-height: 2; }
    LiveScreen.-narrow #phase { height: auto; max-height: 2; }
    LiveScreen.-narrow #gauge { display: none; }
    LiveScreen.-narrow #pressure-line { display: block; }
    LiveScreen.-low #glance { height: 1fr; }
    LiveScreen.-low.-no-figure #cautions { display: block; max-height: 6; }
    LiveScreen.-low.-no-figure #glance { display: none; }
    LiveScreen.-low.-heating #health { display: none; }
    LiveScreen.-low.-heating #health.-wrong { display: block; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._span: TimeSpan | None = None
        self._span_s = DEFAULT_SPAN_S

    def compose(self) -> ComposeResult:
        yield Lines(id="head")
        yield Lines(id="phase")
        with Horizontal(id="glance"):
            with Vertical(id="clock"):
                yield Figure(id="figure")
                yield Lines(id="caption", classes="under")
            with Vertical(id="gauge"):
                yield Figure(id="pressure")
                yield Lines(id="pressure-caption", classes="under")
        yield Lines(id="pressure-line")
        yield Lines(id="action")
        yield Lines(id="heat")
        yield Lines(id="cautions")
        yield Canvas(id="pressure-curve")
        yield Lines(id="plate")
        yield Canvas(id="plate-curve")
        yield Lines(id="times")
        yield Lines(id="deviations")
        yield Lines(id="health")
        yield Lines(id="notice")
        yield Lines(id=KEYS)

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        offers = []
        if cue is not None:
            offers = [_offer(action) for action in cue.keys]
        return (*offers, KeyOffer(key="z", name=label("time span"), action="zoom"))

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        texts = {
            "head": [head_line(picture)],
            "phase": [phase_line(picture)],
            "caption": [cue.caption],
            "pressure-caption": [pressure_caption(picture)],
            "action": [cue.action],
            "heat": heat_lines(picture, now_s),
            "cautions": cautions_of(cue),
            "plate": [plate_line(picture)],
            "deviations": deviation_lines(picture, 2),
            "health": health_lines(picture, now_s),
        }
        for name, lines in texts.items():
            self.query_one(f"#{name}", Lines).show(*lines)
        self.query_one("#figure", Figure).show(cue.figure)
        self.set_class(not cue.figure, "-no-figure")
        self.set_class(bool(texts["heat"]), "-heating")
        self.set_class(picture.is_released or picture.phase in _PLATE_OUT, "-plate-out")
        pressure = big_pressure(picture, now_s)
        self.query_one("#pressure", Figure).show(pressure)
        self.query_one("#pressure-line", Lines).show(f"{pressure} {pressure_caption(picture)}".strip())
        self.query_one("#health").set_class(bool(troubles(picture, now_s)), "-wrong")
        self._draw(picture)

    def action_bead(self) -> None:
        confirm_bead(self.desk)

    def action_clamps(self) -> None:
        ask_clamps(self, self.desk)

    def action_abort(self) -> None:
        ask_to_break_off(self, self.desk)

    def action_zoom(self) -> None:
        """Show more time, and after the longest the shortest."""
        self._span_s = SPANS_S[(SPANS_S.index(self._span_s) + 1) % len(SPANS_S)]

    def _draw(self, picture: Picture) -> None:
        pressure, plate = self.query_one("#pressure-curve", Canvas), self.query_one("#plate-curve", Canvas)
        if not pressure.size or picture.state is None:
            return
        now_s = picture.now_s
        self._span = turned(self._span, now_s, self._span_s)
        pieces = pieces_of(picture.plan, picture.phases, now_s)
        per_bar = picture.units.gauge_of(1.0)
        top = self._top(picture, pieces, per_bar)
        axis = Axis(high=top, digits=0 if top >= _WHOLE_FROM else 1, unit=picture.units.pressure)
        # A little below nothing, so that the noise of an idle gauge is seen.
        frame = self._frame(pressure, -_BELOW * top / per_bar, top / per_bar)
        pressure.draw(picture.pressure, pieces, frame, axis)
        plate_low, plate_high = _plate_range(picture)
        frame = self._frame(plate, plate_low, plate_high)
        plate.draw(
            picture.plate,
            plate_pieces(picture.plan, self._span),
            frame,
            Axis(low=plate_low, high=plate_high, unit="°C"),
        )
        zero_s = picture.phases[-1][1] if picture.phases else 0.0
        width = pressure.cell_size[0]
        self.query_one("#times", Lines).show(" " * LABEL + time_labels(self._span, width, zero_s))

    def _frame(self, canvas: Canvas, low: float, high: float) -> Frame:
        span = self._span or TimeSpan(from_s=0.0, to_s=self._span_s)
        columns, rows = canvas.cell_size
        return Frame(from_s=span.from_s, to_s=span.to_s, low=low, high=high, columns=columns, rows=rows)

    def _top(self, picture: Picture, pieces: tuple[Piece, ...], per_bar: float) -> float:
        """The top of the pressure's axis in the operator's unit.

        It follows the plan, so that its bands are told apart; an opening stroke at relief pressure leaves the
        frame. Without a plan it follows the curve.
        """
        greatest = max((p.high or 0.0 for p in pieces), default=0.0)
        if not greatest and self._span is not None:
            _, shown = picture.pressure.between(self._span.from_s, self._span.to_s)
            greatest = float(shown.max()) if len(shown) else 0.0
        return nice_top(max(greatest * per_bar * _HEADROOM, 1.0))


def _offer(action: str) -> KeyOffer:
    match action:
        case "bead":
            return KeyOffer(key="b", name=label("bead seen"), action=action)
        case "clamps":
            return KeyOffer(key="c", name=label("clamps opened"), action=action)
        case _:
            return KeyOffer(key="x", name=label("break off"), action=action)


def _plate_range(picture: Picture) -> tuple[float, float]:
    """Around the band; all there is while the plate is far from it."""
    band = picture.plan.plate_temperature_degC if picture.plan else None
    channel = picture.channel(PLATE)
    value = channel.value if channel else None
    if band is None or band.min is None or band.max is None:
        return _PLATE_BLIND
    low, high = band.min - _PLATE_ROOM_DEGC, band.max + _PLATE_ROOM_DEGC
    return (low, high) if value is None or low <= value <= high else _PLATE_BLIND
