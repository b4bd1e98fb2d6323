"""The checklist before the plate goes in: limits with their sources, cautions where the hand goes near."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from logger.domain.checklist import CheckCode
from logger.errors import BeadwatchError
from logger.wire.desk import (
    AmbientAnswer,
    AmbientCommand,
    ChecklistMessage,
    CheckModel,
    DragCommand,
    PreparationCommand,
    Said,
)
from logger.wire.live import Accepted, DragOfferMessage
from logger.wording.units import Units
from tui.catalogue import label, tr
from tui.check_words import DONE, SKIPPED, answer_word, detail_lines, drag_offer_text, item_text
from tui.glance import Cue
from tui.model import Picture
from tui.numbers import gauge_with_unit, seconds
from tui.plan_words import caution_text
from tui.plate_words import heat_beside, surface_lines
from tui.screens.base import KEYS, KeyOffer, RoomScreen
from tui.screens.dialogs import ConfirmDialog, ReasonDialog
from tui.screens.joint_keys import operator_of
from tui.screens.questions import Answers, FormDialog, with_unit
from tui.widgets.form import Field
from tui.widgets.lines import Lines
from tui.words import head_line

WITH_VALUE = (CheckCode.GAP, CheckCode.MISALIGNMENT, CheckCode.DRAG_MEASURED)
"""Done only with the value that was measured; elsewhere it is entered where there is one."""


class PreparationScreen(RoomScreen):
    """One item at a time, in the order of the work."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "step(1)"),
        Binding("up", "step(-1)"),
        Binding("d", "done"),
        Binding("s", "skip"),
        Binding("o", "take_drag"),
        Binding("a", "ambient"),
    ]
    DEFAULT_CSS = """
    PreparationScreen Lines { width: 1fr; height: auto; }
    PreparationScreen #head { height: 1; }
    PreparationScreen #state { text-style: bold reverse; max-height: 2; }
    PreparationScreen #list { height: 1fr; min-height: 3; }
    PreparationScreen #heat { text-style: bold; color: $secondary; max-height: 3; }
    PreparationScreen #item { text-style: bold; color: $primary; }
    PreparationScreen #cautions { text-style: bold; color: $warning; }
    PreparationScreen #drag { text-style: bold; color: $secondary; }
    PreparationScreen #notice { text-style: bold; max-height: 2; }
    PreparationScreen #keys { max-height: 2; dock: bottom; }
    PreparationScreen.-low #detail, PreparationScreen.-low #head { display: none; }
    PreparationScreen.-low #cautions { max-height: 6; }
    PreparationScreen.-low #list { min-height: 1; }
    PreparationScreen.-low #keys { max-height: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.checks: tuple[CheckModel, ...] = ()
        self._joint_uuid: str | None = None
        self._place = 0

    def compose(self) -> ComposeResult:
        for name in (
            "head",
            "state",
            "heat",
            "list",
            "item",
            "detail",
            "surface",
            "cautions",
            "drag",
            "notice",
            KEYS,
        ):
            yield Lines(id=name)

    def on_screen_resume(self, _: events.ScreenResume) -> None:
        self.ask()

    def ask(self) -> None:
        self.work(self._ask)

    async def _ask(self) -> None:
        try:
            message = await self.desk.link.get(ChecklistMessage, "/v1/checklist")
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
            return
        if message.joint_uuid != self._joint_uuid:
            self._place = 0
        self._joint_uuid = message.joint_uuid
        self.checks = message.checks if message.joint_uuid else ()
        self.desk.look()

    @property
    def check(self) -> CheckModel | None:
        return self.checks[self._place] if self._place < len(self.checks) else None

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        if self.check is None:
            return ()
        offers = [
            KeyOffer(key="d", name=label("done"), action="done"),
            KeyOffer(key="s", name=label("skip"), action="skip"),
            KeyOffer(key="a", name=label("ambient"), action="ambient"),
        ]
        if self._offer() is not None:
            offers.append(KeyOffer(key="o", name=label("take drag"), action="take_drag"))
        return tuple(offers)

    def _offer(self) -> DragOfferMessage | None:
        state = self.desk.picture.state
        return None if state is None else state.drag_offer

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        state = picture.state
        if state is not None and state.joint_uuid != self._joint_uuid:
            self._joint_uuid = state.joint_uuid
            self.ask()
        texts = {
            "head": [head_line(picture)],
            "state": [self._state_line()],
            "list": self._list(picture.units),
            "heat": heat_beside(self.check, picture, now_s, is_low=self.has_class("-low")),
            "item": [],
            "detail": [],
            "surface": [],
            "cautions": [],
            "drag": self._drag_lines(picture),
        }
        if self.check is not None:
            texts["item"] = [item_text(self.check, picture.units)]
            texts["detail"] = detail_lines(self.check)
            if self.check.item is CheckCode.HEATER_CHECKED:
                texts["surface"] = surface_lines(picture, is_short=self.has_class("-low"))
            texts["cautions"] = [f"▲ {caution_text(code)}" for code in self.check.cautions]
        for name, lines in texts.items():
            self.query_one(f"#{name}", Lines).show(*lines)

    def _state_line(self) -> str:
        if not self.checks:
            return tr("PREPARATION: no joint is open. F1 opens one.")
        answers = [check.said.body.get("answer") for check in self.checks if check.said]
        return tr(
            "PREPARATION: {done} of {all} done, {skipped} skipped",
            done=answers.count(DONE), all=len(self.checks), skipped=answers.count(SKIPPED),
        )  # fmt: skip

    def _list(self, units: Units) -> list[str]:
        place = self.query_one("#list", Lines)
        rows, width = max(place.size.height, 1), max(place.size.width, 20)
        first = max(0, min(self._place - rows // 2, len(self.checks) - rows))
        lines = []
        for index, check in enumerate(self.checks[first : first + rows], first):
            sign = "▶" if index == self._place else " "
            text = f"{sign} {answer_word(check):9} {item_text(check, units)}"
            lines.append(text if len(text) <= width else f"{text[: width - 1]}…")
        return lines

    def _drag_lines(self, picture: Picture) -> list[str]:
        state = picture.state
        if state is None or self.check is None:
            return []
        lines = []
        if state.drag_bar is not None:
            lines.append(tr("Drag confirmed: {drag}", drag=gauge_with_unit(state.drag_bar, picture.units)))
        if state.drag_offer is not None:
            lines.append(drag_offer_text(state.drag_offer, picture))
        elif self.check.item is CheckCode.DRAG_MEASURED:
            lines.append(tr("No slow steady closing stroke seen since facing: make one, or type it."))
        return lines

    def action_step(self, step: int) -> None:
        self._place = max(0, min(self._place + step, len(self.checks) - 1))
        self.desk.look()

    def action_done(self) -> None:
        check = self.check
        if check is None:
            return
        if not check.unit:
            self._say_done(check)
            return
        unit = self.desk.picture.units.pressure.value if check.unit == "bar" else check.unit
        fields = [
            Field(
                key="value",
                name=tr("measured"),
                hint=unit.replace("degC", "°C"),
                is_needed=check.item in WITH_VALUE,
            )
        ]
        if check.unit == "degC":
            fields.append(Field(key="instrument", name=tr("instrument")))
        cautions = [caution_text(code) for code in check.cautions]
        question = item_text(check, self.desk.picture.units)

        async def send(answers: Answers) -> str:
            value = with_unit(answers["value"], unit)
            if check.item is CheckCode.DRAG_MEASURED:
                await self._confirm_drag(value, is_offered=False)
            await self._post(check, DONE, value=value, instrument=answers.get("instrument", ""))
            return ""

        self.app.push_screen(FormDialog(question, fields, send, cautions=cautions), self._after)

    def action_skip(self) -> None:
        check = self.check

        def answered(reason: str | None) -> None:
            if reason and check is not None:
                self.desk.send(lambda: self._post(check, SKIPPED, reason=reason), tr("Recorded as skipped."))

        if check is not None:
            question = tr("Skip this item? Type why; it goes into the record as skipped.")
            self.app.push_screen(ReasonDialog(question), answered)

    def action_take_drag(self) -> None:
        offer = self._offer()
        check = next((check for check in self.checks if check.item is CheckCode.DRAG_MEASURED), None)
        if offer is None or check is None:
            return
        value = f"{offer.pressure_bar:.2f} bar"

        async def take() -> None:
            await self._confirm_drag(value, is_offered=True)
            await self._post(check, DONE, value=value)

        def answered(answer: object) -> None:
            if answer:
                self.desk.send(take, tr("Drag confirmed."))

        question = tr("Was this a slow steady closing stroke of this pipe, after the last facing?")
        text = f"{drag_offer_text(offer, self.desk.picture)} {question}"
        self.app.push_screen(ConfirmDialog(text), answered)

    def action_ambient(self) -> None:
        fields = (
            Field(key="temperature", name=tr("ambient at the joint"), hint="°C", is_needed=True),
            Field(key="instrument", name=tr("its thermometer"), is_needed=True),
        )

        async def send(answers: Answers) -> str:
            command = AmbientCommand(
                temperature=with_unit(answers["temperature"], "degC"),
                instrument=answers["instrument"],
                by=operator_of(self.desk.picture),
            )
            answer = await self.desk.link.post(AmbientAnswer, "/v1/joint/ambient", command)
            if answer.governing_cooling_s is None:
                return tr("Ambient recorded.")
            return tr("Cooling time that governs: {time}", time=seconds(answer.governing_cooling_s))

        question = tr("Ambient temperature, taken at the joint inside the shelter")
        self.app.push_screen(FormDialog(question, fields, send), self._after)

    async def _confirm_drag(self, value: str, *, is_offered: bool) -> None:
        command = DragCommand(pressure=value, is_offered=is_offered, by=operator_of(self.desk.picture))
        await self.desk.link.post(Accepted, "/v1/joint/drag", command)

    def _say_done(self, check: CheckModel) -> None:
        self.desk.send(lambda: self._post(check, DONE), "")

    async def _post(
        self, check: CheckModel, answer: str, *, value: str = "", instrument: str = "", reason: str = ""
    ) -> None:
        command = PreparationCommand.model_validate(
            {
                "item": check.item, "answer": answer, "value": value, "instrument": instrument,
                "reason": reason, "by": operator_of(self.desk.picture),
            }
        )  # fmt: skip
        await self.desk.link.post(Said, "/v1/joint/preparation", command)
        await self._ask()
        self._next_open()

    def _next_open(self) -> None:
        later = [k for k, check in enumerate(self.checks) if check.said is None and k > self._place]
        if later:
            self._place = later[0]

    def _after(self, said: str | None) -> None:
        if said:
            self.desk.say(said)
        self.ask()
