"""Past joints: a list with filters, a curve over its plan, two curves one over the other."""

from typing import ClassVar
from urllib.parse import urlencode

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from logger.domain.judgement import Verdict
from logger.errors import BeadwatchError
from logger.wire.history import JointList, JointSummary
from logger.wording.events import VERDICT_NAMES
from tui.catalogue import label, tr
from tui.glance import Cue
from tui.model import Picture
from tui.screens.base import KEYS, KeyOffer, RoomScreen
from tui.screens.questions import Answers, FormDialog
from tui.stored import StoredJoint, stored_joint
from tui.widgets.canvas import Canvas
from tui.widgets.form import Choice, Field
from tui.widgets.lines import Lines
from tui.widgets.stored_curve import draw_stored
from tui.words import head_line

PAGE = 50
OPEN = "open"


class HistoryScreen(RoomScreen):
    """Enter opens a joint; O lays a second one over it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "step(1)"),
        Binding("up", "step(-1)"),
        Binding("enter", "open"),
        Binding("o", "overlay"),
        Binding("f", "filter"),
        Binding("m", "more"),
        Binding("a", "close"),
    ]
    DEFAULT_CSS = """
    HistoryScreen Lines { width: 1fr; height: auto; }
    HistoryScreen #head { height: 1; }
    HistoryScreen #state { text-style: bold reverse; height: 1; }
    HistoryScreen #list { height: 1fr; min-height: 3; }
    HistoryScreen #curve-name { text-style: bold; color: $primary; }
    HistoryScreen #curve { height: 1fr; min-height: 3; }
    HistoryScreen #times { height: 1; }
    HistoryScreen #notice { text-style: bold; max-height: 2; }
    HistoryScreen #keys { max-height: 2; dock: bottom; }
    HistoryScreen.-low #head, HistoryScreen.-low #curve, HistoryScreen.-low #times { display: none; }
    HistoryScreen.-low #keys { max-height: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.joints: tuple[JointSummary, ...] = ()
        self.first: StoredJoint | None = None
        self.second: StoredJoint | None = None
        self._is_more = False
        self._place = 0
        self._filter: Answers = {}
        self._drawn: object = None

    def compose(self) -> ComposeResult:
        for name in ("head", "state", "list", "curve-name"):
            yield Lines(id=name)
        yield Canvas(id="curve")
        for name in ("times", "notice", KEYS):
            yield Lines(id=name)

    def on_screen_resume(self, _: events.ScreenResume) -> None:
        self.work(self._list)

    async def _list(self) -> None:
        await self._load(())

    async def _load(self, before: tuple[JointSummary, ...]) -> None:
        """Ask for the joints after those that are known."""
        chosen = {key: text for key, text in self._filter.items() if text}
        query = urlencode({**chosen, "limit": PAGE, "offset": len(before)})
        try:
            found = await self.desk.link.get(JointList, f"/v1/joints?{query}")
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
            return
        self.joints, self._is_more = (*before, *found.joints), found.is_more
        self._place = min(self._place, max(len(self.joints) - 1, 0))
        self.desk.look()

    @property
    def summary(self) -> JointSummary | None:
        return self.joints[self._place] if self.joints else None

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        offers = [KeyOffer(key="f", name=label("filter"), action="filter")]
        if self.summary is not None:
            offers.append(KeyOffer(key="enter", name=label("open curve"), action="open"))
        if self.summary is not None and self.summary.ended is not None:
            offers.append(KeyOffer(key="a", name=label("close joint"), action="close"))
        if self.summary is not None and self.first is not None and self.first.uuid != self.summary.uuid:
            offers.append(KeyOffer(key="o", name=label("lay over"), action="overlay"))
        if self._is_more:
            offers.append(KeyOffer(key="m", name=label("more"), action="more"))
        return tuple(offers)

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        self.query_one("#head", Lines).show(head_line(picture))
        self.query_one("#state", Lines).show(self._state_line())
        self.query_one("#list", Lines).show(*self._rows())
        names = (
            [] if self.first is None else [tr("{joint}: full line", joint=_name(self.first.detail.summary))]
        )
        if self.second is not None:
            names.append(tr("{joint}: dotted", joint=_name(self.second.detail.summary)))
            names.append(tr("both from the start of bead-up where it was seen"))
        self.query_one("#curve-name", Lines).show(*([" · ".join(names)] if names else []))
        times = self.query_one("#times", Lines)
        if self.first is not None:
            canvas = self.query_one("#curve", Canvas)
            drawing = (picture.units, self.first, self.second, canvas.size)
            if drawing != self._drawn:
                self._drawn = drawing
                times.show(draw_stored(canvas, picture.units, self.first, self.second))

    def _state_line(self) -> str:
        shown = [
            tr(VERDICT_NAMES[Verdict(v)]) if v in set(Verdict) else v for v in self._filter.values() if v
        ]
        if shown:
            return tr(
                "HISTORY: {count} joints with {filter}", count=len(self.joints), filter=", ".join(shown)
            )
        return tr("HISTORY: {count} joints", count=len(self.joints))

    def _rows(self) -> list[str]:
        place = self.query_one("#list", Lines)
        rows, width = max(place.size.height, 3), max(place.size.width, 20)
        first = max(0, min(self._place - rows // 2, len(self.joints) - rows))
        lines = []
        for index, joint in enumerate(self.joints[first : first + rows], first):
            text = f"{'▶' if index == self._place else ' '} {_row(joint)}"
            lines.append(text if len(text) <= width else f"{text[: width - 1]}…")
        return lines

    def action_step(self, step: int) -> None:
        self._place = max(0, min(self._place + step, len(self.joints) - 1))
        self.desk.look()

    def action_more(self) -> None:
        self.work(self._more)

    async def _more(self) -> None:
        await self._load(self.joints)

    def action_open(self) -> None:
        self.work(self._open)

    async def _open(self) -> None:
        self.first, self.second = await self._stored() or self.first, None
        self.desk.look()

    def action_close(self) -> None:
        """Look at the joint and sign it off on the screen for that."""
        if self.summary is not None:
            self.desk.chosen_uuid = self.summary.uuid
            self.desk.action_room("after")

    def action_overlay(self) -> None:
        self.work(self._overlay)

    async def _overlay(self) -> None:
        self.second = await self._stored() or self.second
        self.desk.look()

    async def _stored(self) -> StoredJoint | None:
        if self.summary is None:
            return None
        try:
            return await stored_joint(self.desk.link, self.summary.uuid, has_curve=True)
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
            return None

    def action_filter(self) -> None:
        verdicts = [Choice(value="", text=tr("any")), Choice(value=OPEN, text=tr("still open"))]
        verdicts += [Choice(value=verdict, text=tr(VERDICT_NAMES[verdict])) for verdict in Verdict]
        known = {"text": "", "project": "", "verdict": "", **self._filter}
        fields = (
            Field(key="text", name=tr("text"), value=known["text"]),
            Field(key="project", name=tr("project"), value=known["project"]),
            Field(
                key="verdict",
                name=tr("verdict"),
                value=known["verdict"],
                choices=tuple(verdicts),
                is_closed=True,
            ),
        )

        async def send(answers: Answers) -> str:
            self._filter, self._place = answers, 0
            return ""

        def chosen(said: str | None) -> None:
            if said is not None:
                self.work(self._list)

        self.app.push_screen(FormDialog(tr("Which joints are shown"), fields, send), chosen)


def _name(joint: JointSummary) -> str:
    number = joint.number or tr("joint without a name")
    return number if joint.attempt == 1 else tr("{joint} attempt {n}", joint=number, n=joint.attempt)


def _row(joint: JointSummary) -> str:
    """Number, verdict of the curve as it was first given, when, whose."""
    verdict = tr("still open") if joint.verdict is None else tr(VERDICT_NAMES[Verdict(joint.verdict)])
    whose = ", ".join(name for name in (joint.operator, joint.project) if name)
    return f"{_name(joint):18} {verdict:16} {_when(joint)}  {whose}".rstrip()


def _when(joint: JointSummary) -> str:
    return f"{joint.opened_utc[:16].replace('T', ' ')} UTC"
