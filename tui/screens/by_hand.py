"""Boundaries marked or corrected by hand, and readings of the plate: where a gauge shows too little."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from logger.domain.notices import CautionCode
from logger.domain.phase import Phase
from logger.errors import BeadwatchError
from logger.wire.desk import REACTION_U_S, MarkCommand, PlateReadingCommand, Said
from logger.wording.hand_text import boundary_name
from tui.axes import PhaseTimes, TimeSpan
from tui.catalogue import label, tr
from tui.glance import Cue
from tui.marks import BOUNDARIES, BoundaryRow, boundary_rows, row_text
from tui.model import Picture
from tui.numbers import number
from tui.plan_words import caution_text
from tui.screens.base import KEYS, KeyOffer, RoomScreen
from tui.screens.questions import Answers, FormDialog, with_unit
from tui.series import Series
from tui.stored import StoredJoint, stored_joint
from tui.widgets.canvas import LABEL, Canvas
from tui.widgets.form import Choice, Field
from tui.widgets.lines import Lines
from tui.widgets.stored_curve import draw_curve, times_line
from tui.words import head_line

SPANS_S = (None, 240.0, 60.0, 20.0)
"""How much is shown around the cursor; None is all of it."""
_STEPS = 148
"""A step of the cursor is about one column of dots."""
START = "record"


class ByHandScreen(RoomScreen):
    """Detected and marked side by side, a cursor on the curve, the stop watch, the plate's probe."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "step(-1)"),
        Binding("right", "step(1)"),
        Binding("pageup", "step(-10)"),
        Binding("pagedown", "step(10)"),
        Binding("z", "zoom"),
        Binding("m", "mark"),
        Binding("w", "watch"),
        Binding("p", "plate"),
    ]
    DEFAULT_CSS = """
    ByHandScreen Lines { width: 1fr; height: auto; }
    ByHandScreen #head, ByHandScreen #times, ByHandScreen #cursor { height: 1; }
    ByHandScreen #state { text-style: bold reverse; }
    ByHandScreen #rule { text-style: bold; color: $warning; }
    ByHandScreen #curve { height: 1fr; min-height: 3; }
    ByHandScreen #cursor { text-style: bold; color: $primary; }
    ByHandScreen #notice { text-style: bold; max-height: 2; }
    ByHandScreen #keys { max-height: 2; dock: bottom; }
    ByHandScreen.-low #head, ByHandScreen.-low #table { display: none; }
    ByHandScreen.-low #rule { max-height: 3; }
    ByHandScreen.-low #keys { max-height: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.joint: StoredJoint | None = None
        self._uuid: str | None = None
        self._span_s: float | None = None
        self._at_s: float | None = None

    def compose(self) -> ComposeResult:
        for name in ("head", "state", "rule", "table"):
            yield Lines(id=name)
        yield Canvas(id="curve")
        for name in ("times", "cursor", "notice", KEYS):
            yield Lines(id=name)

    def on_screen_resume(self, _: events.ScreenResume) -> None:
        self._uuid = None
        self.desk.look()

    async def _ask(self) -> None:
        uuid = self._uuid
        if uuid is None:
            return
        try:
            joint = await stored_joint(self.desk.link, uuid, has_curve=not self._is_open())
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
            return
        if joint.uuid == self._uuid:
            self.joint = joint
            self.desk.look()

    def _is_open(self) -> bool:
        state = self.desk.picture.state
        return state is not None and state.joint_uuid is not None

    def _may_mark(self) -> bool:
        """Not while the ends are at the plate or on the way to each other: afterwards, or before."""
        return not self._is_open() or self.desk.picture.phase in (None, Phase.COOLING)

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        if self.joint is None or not self._may_mark():
            return ()
        offers = [
            KeyOffer(key="m", name=label("mark here"), action="mark"),
            KeyOffer(key="w", name=label("stop watch"), action="watch"),
            KeyOffer(key="z", name=label("time span"), action="zoom"),
        ]
        if self._is_open():
            offers.append(KeyOffer(key="p", name=label("plate probe"), action="plate"))
        return tuple(offers)

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        state = picture.state
        uuid = None if state is None else state.joint_uuid or state.last_joint_uuid
        if uuid != self._uuid:
            self._uuid, self.joint, self._at_s = uuid, None, None
            self.work(self._ask)
        rows = self._rows() if self.joint is not None else ()
        texts = {
            "head": [head_line(picture)],
            "state": [self._state_line()],
            "rule": [
                tr("Marks stand beside what was detected; a mark alone never makes a joint conforming.")
            ],
            "table": [row_text(row) for row in rows],
        }
        for name, lines in texts.items():
            self.query_one(f"#{name}", Lines).show(*lines)
        self._draw(picture)

    def _state_line(self) -> str:
        if self.joint is None:
            return tr("BY HAND: no joint to mark")
        number = self.joint.detail.summary.number or tr("joint without a name")
        if not self._may_mark():
            return tr("BY HAND: {joint}. Marks come after the changeover, once it cools.", joint=number)
        return tr("BY HAND: {joint}", joint=number)

    def _rows(self) -> tuple[BoundaryRow, ...]:
        marks = self.joint.said("mark") if self.joint else []
        return boundary_rows(self._phases(), marks)

    def _phases(self) -> PhaseTimes:
        if self._is_open() or self.joint is None:
            return self.desk.picture.phases
        return self.joint.phases

    def _curve(self) -> Series:
        return self.desk.picture.pressure if self._is_open() or self.joint is None else self.joint.pressure

    def _draw(self, picture: Picture) -> None:
        canvas, series = self.query_one("#curve", Canvas), self._curve()
        if self.joint is None or not len(series) or not canvas.size:
            return
        span = self._shown(series)
        draw_curve(canvas, picture.units, span, series, ())
        self.query_one("#times", Lines).show(times_line(canvas, span, 0.0))
        at_s = self._cursor_s(series)
        columns = canvas.cell_size[0]
        column = round((at_s - span.from_s) / span.length_s * (columns - 1))
        text = tr("{at} s", at=number(at_s, 1))
        fits = column + len(text) + 2 <= columns
        line = f"{' ' * column}▲ {text}" if fits else f"{text} ▲".rjust(column + 1)
        self.query_one("#cursor", Lines).show(" " * LABEL + line)

    def _cursor_s(self, series: Series) -> float:
        if self._at_s is not None:
            return self._at_s
        return float(series.t_s[-1]) if len(series) else 0.0

    def _shown(self, series: Series) -> TimeSpan:
        first_s, last_s = float(series.t_s[0]), float(series.t_s[-1])
        whole = TimeSpan(from_s=first_s, to_s=max(last_s, first_s + 1.0))
        if self._span_s is None or self._span_s >= whole.length_s:
            return whole
        from_s = min(max(self._cursor_s(series) - self._span_s / 2, first_s), last_s - self._span_s)
        return TimeSpan(from_s=from_s, to_s=from_s + self._span_s)

    def action_step(self, steps: int) -> None:
        series = self._curve()
        if len(series):
            step_s = self._shown(series).length_s / _STEPS
            at_s = self._cursor_s(series) + steps * step_s
            self._at_s = min(max(at_s, float(series.t_s[0])), float(series.t_s[-1]))
            self.desk.look()

    def action_zoom(self) -> None:
        """Show less around the cursor, and after the least all."""
        self._span_s = SPANS_S[(SPANS_S.index(self._span_s) + 1) % len(SPANS_S)]
        self.desk.look()

    def action_mark(self) -> None:
        at_s = self._cursor_s(self._curve())

        async def send(answers: Answers) -> str:
            return await self._mark(answers, at_s, "curve")

        question = tr("Mark at {at} s on the joint's clock", at=number(at_s, 1))
        self.app.push_screen(FormDialog(question, self._mark_fields(), send), self._after)

    def action_watch(self) -> None:
        known = {row.key: row.known_s for row in self._rows()}
        bases = {START: 0.0, **{key: at_s for key, at_s in known.items() if at_s is not None}}
        names = {START: tr("start of the record"), **{key: boundary_name(key) for key in known}}
        choices = tuple(Choice(value=key, text=names[key]) for key in bases)
        boundary, *rest = self._mark_fields()
        fields = (
            boundary,
            Field(key="since", name=tr("counted from"), choices=choices, is_closed=True, is_needed=True),
            Field(key="seconds", name=tr("seconds on the watch"), is_needed=True),
            *rest,
        )

        async def send(answers: Answers) -> str:
            at_s = bases[answers["since"]] + _figure(answers["seconds"])
            return await self._mark(answers, at_s, "stop_watch")

        question = tr("Mark from a stop watch: what it read, counted from what")
        self.app.push_screen(FormDialog(question, fields, send), self._after)

    async def _mark(self, answers: Answers, at_s: float, how: str) -> str:
        body = {
            "joint_uuid": self._uuid, "boundary": answers["boundary"], "at_s": at_s, "how": how,
            "u_s": _figure(answers["u_s"]) if answers["u_s"] else REACTION_U_S, "by": answers["by"],
        }  # fmt: skip
        await self.desk.link.post(Said, "/v1/joint/mark", MarkCommand.model_validate(body))
        return tr("Mark recorded beside what was detected.")

    def _mark_fields(self) -> tuple[Field, ...]:
        names = tuple(Choice(value=key, text=boundary_name(key)) for key in BOUNDARIES)
        hint = tr("{u} s where left empty", u=number(REACTION_U_S, 1))
        return (
            Field(key="boundary", name=tr("boundary"), choices=names, is_closed=True, is_needed=True),
            Field(key="u_s", name=tr("uncertainty, s"), hint=hint),
            Field(key="by", name=tr("marked by"), value=self._by(), is_needed=True),
        )

    def action_plate(self) -> None:
        faces = (
            Choice(value="fixed", text=tr("fixed side")),
            Choice(value="moving", text=tr("moving side")),
            Choice(value="both", text=tr("both sides")),
        )
        fields = (
            Field(key="temperature", name=tr("plate surface"), hint="°C", is_needed=True),
            Field(key="instrument", name=tr("instrument"), is_needed=True),
            Field(key="uncertainty", name=tr("its uncertainty"), hint="°C", is_needed=True),
            Field(key="face", name=tr("side"), choices=faces, is_closed=True, is_needed=True),
            Field(key="taken_s_ago", name=tr("seconds ago"), is_needed=True),
            Field(key="by", name=tr("read by"), value=self._by(), is_needed=True),
        )

        async def send(answers: Answers) -> str:
            body = {
                **answers,
                "temperature": with_unit(answers["temperature"], "degC"),
                "uncertainty": with_unit(answers["uncertainty"], "degC"),
                "taken_s_ago": _figure(answers["taken_s_ago"]),
            }
            command = PlateReadingCommand.model_validate(body)
            await self.desk.link.post(Said, "/v1/joint/plate-reading", command)
            return tr("Plate reading recorded.")

        cautions = [caution_text(CautionCode.HOT_PLATE)]
        question = tr("Plate surface read by hand, with its instrument and when")
        self.app.push_screen(FormDialog(question, fields, send, cautions=cautions), self._after)

    def _by(self) -> str:
        return self.joint.detail.summary.operator if self.joint else ""

    def _after(self, said: str | None) -> None:
        if said:
            self.desk.say(said)
        self.work(self._ask)


def _figure(text: str) -> float:
    """Raises ValueError where it is none."""
    return float(text.replace(",", "."))
