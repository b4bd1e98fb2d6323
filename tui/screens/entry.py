"""The joint's data, typed with a live plan beside it."""

import contextlib
from collections.abc import Iterable
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, VerticalScroll
from textual.timer import Timer

from logger.domain.notices import CautionCode
from logger.errors import BeadwatchError, ProcedureRefusal
from logger.wire.desk import OpenCommand
from logger.wire.entry import ChoicesMessage, JointEntry, PipeEntry, PlanAnswer
from logger.wire.history import JointList, JointSummary
from logger.wire.live import Accepted
from logger.wire.plan import plan_value
from logger.wording.notices import text_of
from logger.wording.recorder_lines import told
from logger.wording.refusals import refusal_text
from tui.catalogue import label, tr
from tui.entry_fields import OF_ONE_JOINT, PIPE, PIPE_B, entry_of, fields, offers_of
from tui.glance import Cue
from tui.model import Picture
from tui.plan_words import caution_text, plan_lines
from tui.screens.base import KEYS, KeyOffer, RoomScreen
from tui.screens.claim import ask_claim, is_unnamed, unnamed_text
from tui.screens.questions import pick
from tui.widgets.form import Form
from tui.widgets.lines import Lines
from tui.words import head_line

PAUSE_S = 0.15
"""So long nothing is typed before the plan is asked for."""


class EntryScreen(RoomScreen):
    """Fields on one side, what they come to on the other."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f7", "pick"),
        Binding("f8", "open"),
        Binding("f10", "two_ends"),
        Binding("pageup", "turn_plan(-1)", priority=True),
        Binding("pagedown", "turn_plan(1)", priority=True),
    ]
    DEFAULT_CSS = """
    EntryScreen Lines { width: 1fr; height: auto; }
    EntryScreen #head { height: 1; }
    EntryScreen #state { text-style: bold; color: $primary; max-height: 4; }
    EntryScreen #sides { height: 1fr; layout: vertical; }
    EntryScreen #entry { height: 2fr; }
    EntryScreen #side { height: 1fr; scrollbar-size-vertical: 1; }
    EntryScreen.-wide #sides { layout: horizontal; }
    EntryScreen.-wide #entry { height: 1fr; width: 3fr; }
    EntryScreen.-wide #side { height: 1fr; width: 2fr; padding: 0 0 0 2; }
    EntryScreen.-low #side { display: none; }
    EntryScreen.-narrow #head { height: auto; max-height: 2; }
    EntryScreen.-narrow #state { max-height: 6; }
    EntryScreen #notice { text-style: bold; max-height: 2; }
    EntryScreen #keys { max-height: 2; dock: bottom; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.answer: PlanAnswer | None = None
        self._has_two_ends = False
        self._is_offered = False
        self._is_opening = False
        self._refused = ""
        self._unnamed: JointSummary | None = None
        self._pause: Timer | None = None

    def compose(self) -> ComposeResult:
        yield Lines(id="head")
        yield Lines(id="state")
        with Container(id="sides"):
            yield Form(fields(), id="entry")
            with VerticalScroll(id="side", can_focus=False):
                yield Lines(id="plan")
        yield Lines(id="notice")
        yield Lines(id=KEYS)

    @property
    def form(self) -> Form:
        return self.query_one(Form)

    def on_screen_resume(self, _: events.ScreenResume) -> None:
        self.form.reveal(PIPE_B, is_shown=self._has_two_ends)
        if self.form.here is None:
            self.form.action_step(0)
        self.work(self._ask_choices)
        self.work(self._ask_unnamed)

    async def _ask_unnamed(self) -> None:
        """Whether a joint that nobody announced waits for its name; without an answer none is offered."""
        with contextlib.suppress(BeadwatchError):
            found = await self.desk.link.get(JointList, "/v1/joints?limit=50")
            self._unnamed = next((joint for joint in found.joints if is_unnamed(joint)), None)
            self.desk.look()

    async def _ask_choices(self) -> None:
        try:
            choices = await self.desk.link.get(ChoicesMessage, "/v1/choices")
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
            return
        self.form.offer(offers_of(choices))
        if choices.last is not None and not self._is_offered:
            last = choices.last
            self._has_two_ends = last.pipe_b is not None
            own = {"project": last.project, "operator": last.operator, "procedure": last.procedure}
            ends = {PIPE: last.pipe, PIPE_B: last.pipe_b or PipeEntry()}
            own |= {f"{end}{key}": text for end, pipe in ends.items() for key, text in pipe}
            empty = {key for key, text in self.form.answers.items() if not text}
            self.form.fill({key: own[key] for key in own if key in empty and key not in OF_ONE_JOINT})
            self.form.reveal(PIPE_B, is_shown=self._has_two_ends)
        self._is_offered = True
        self._ask_plan()

    def on_form_changed(self) -> None:
        self._refused = ""
        self._ask_plan()

    def _ask_plan(self) -> None:
        if self._pause is not None:
            self._pause.stop()
        self._pause = self.set_timer(PAUSE_S, lambda: self.work(self._plan))

    async def _plan(self) -> None:
        entry = self.entry()
        answer, refused = None, ""
        try:
            answer = await self.desk.link.post(PlanAnswer, "/v1/plan", entry)
        except BeadwatchError as error:
            refused = str(error)
        if entry != self.entry():
            # Typed on since then: the next answer is on its way.
            return
        self.answer, self._refused = answer, refused
        self._show_faults()
        self.desk.look()

    def entry(self) -> JointEntry:
        """What is typed so far."""
        return entry_of(self.form.answers, has_two_ends=self._has_two_ends)

    def _show_faults(self) -> None:
        faults: dict[str, str] = {}
        for error in self.answer.errors if self.answer else ():
            nearest = tr("nearest: {choices}", choices=", ".join(error.nearest)) if error.nearest else ""
            faults[error.field] = "; ".join(part for part in (told(error.message), nearest) if part)
        self.form.show_faults(faults)

    @property
    def is_ready(self) -> bool:
        answer = self.answer
        return answer is not None and not (answer.missing or answer.errors or answer.refusals)

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        row = self.form.here if self.is_laid_out else None
        offers = []
        if row is not None and row.field.choices:
            offers.append(KeyOffer(key="f7", name=label("list"), action="pick"))
        if self.is_ready and not self._has_open_joint():
            offers.append(KeyOffer(key="f8", name=label("open joint"), action="open"))
        name = label("ends alike") if self._has_two_ends else label("ends differ")
        offers.append(KeyOffer(key="f10", name=name, action="two_ends"))
        if self._unnamed is not None:
            offers.append(KeyOffer(key="", name=label("name a joint"), action="name"))
        return tuple(offers)

    def _has_open_joint(self) -> bool:
        state = self.desk.picture.state
        return state is not None and state.joint_uuid is not None

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        self.query_one("#head", Lines).show(head_line(picture))
        self.query_one("#state", Lines).show(*self._state_lines(), *self._waiting_lines())
        self.query_one("#plan", Lines).show(*self._plan_lines(picture))

    def _waiting_lines(self) -> list[str]:
        if self._unnamed is None:
            return []
        joint, name = unnamed_text(self._unnamed), label("name a joint")
        return [tr('! {joint}: F12, then "{name}".', joint=joint, name=name)]

    def _state_lines(self) -> list[str]:
        answer = self.answer
        if self._has_open_joint():
            return [tr("A joint is open: the next can be opened when it has ended.")]
        if self._refused:
            return [tr("NOT DONE: {reason}", reason=self._refused)]
        if answer is None:
            return [tr("NEW JOINT: type what stands on the pipe and in the order.")]
        if answer.refusals:
            refusal = answer.refusals[0]
            why = refusal_text(ProcedureRefusal(refusal.code, refusal.parameters))
            return [tr("The procedure does not cover it: {why}", why=why)]
        if answer.errors:
            return [tr("Not understood: {names}", names=self._names(error.field for error in answer.errors))]
        if answer.missing:
            return [tr("Still needed: {names}", names=self._names(answer.missing))]
        return [tr("All there. F8 opens the joint; procedure and plan are then fixed.")]

    def _names(self, keys: Iterable[str]) -> str:
        names = {key: row.field.name for key, row in self.form.rows.items()}
        return ", ".join(names.get(key, key) for key in keys)

    def _plan_lines(self, picture: Picture) -> list[str]:
        answer = self.answer
        if answer is None:
            return []
        lines = []
        attempt = answer.attempt
        if attempt is not None and attempt.attempt > 1:
            lines.append(
                tr(
                    "! This number is in the record: it becomes attempt {n}, linked to the one before it.",
                    n=attempt.attempt,
                )
            )
        if answer.plan is not None:
            plan = plan_value(answer.plan)
            lines += plan_lines(plan, picture.units)
            lines += [f"- {text_of(remark)}" for remark in plan.remarks]
            lines.append(f"▲ {caution_text(CautionCode.LOCAL_CODES)}")
            unsure = sum(limit.is_decided is False for limit in answer.decidable)
            if unsure:
                lines.append(tr("! Limits that this rig's sensors cannot decide: {count}", count=unsure))
        return lines

    def action_turn_plan(self, step: int) -> None:
        """Read on in the plan, or back."""
        side = self.query_one("#side")
        side.scroll_relative(y=step * max(side.size.height - 1, 1), animate=False)

    def action_name(self) -> None:
        if self._unnamed is not None:
            ask_claim(self, self.desk, self._unnamed, lambda: self.work(self._ask_unnamed))

    def action_pick(self) -> None:
        pick(self.form)

    def action_two_ends(self) -> None:
        """Enter the second pipe end by itself, or as the first."""
        self._has_two_ends = not self._has_two_ends
        answers = self.form.answers
        if self._has_two_ends:
            first = {key: answers[key.replace(PIPE_B, PIPE)] for key in answers if key.startswith(PIPE_B)}
            self.form.fill({k: text for k, text in first.items() if not answers[k] and k not in OF_ONE_JOINT})
        elif self.form.here is not None and self.form.here.field.key.startswith(PIPE_B):
            self.form.focus_row("pipe.material")
        self.form.reveal(PIPE_B, is_shown=self._has_two_ends)
        self._ask_plan()

    def action_open(self) -> None:
        if not self._is_opening:
            self._is_opening = True
            self.work(self._open)

    async def _open(self) -> None:
        try:
            await self.desk.link.post(Accepted, "/v1/joint/start", OpenCommand(entry=self.entry()))
        except BeadwatchError as error:
            self._refused = str(error)
            self.desk.look()
        else:
            self.form.fill(dict.fromkeys(OF_ONE_JOINT, ""))
            self.form.focus_row("joint")
            self.desk.action_room("preparation")
        finally:
            self._is_opening = False
