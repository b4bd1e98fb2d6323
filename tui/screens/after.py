"""The joint that has ended: verdict in plain words, the look at the bead, remarks, sign-off."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

from logger.domain.judgement import Verdict
from logger.domain.notices import CautionCode
from logger.errors import BeadwatchError
from logger.wire.desk import RemarkCommand, Said, SignOffCommand, VisualCommand
from logger.wire.history import JointList
from logger.wording.events import VERDICT_NAMES
from logger.wording.judgement_text import judgement_lines
from logger.wording.plan_text import COLUMNS
from tui.catalogue import label, tr
from tui.glance import Cue
from tui.model import Picture
from tui.plan_words import caution_text, do_not_lines
from tui.screens.base import KEYS, KeyOffer, RoomScreen
from tui.screens.dialogs import ReasonDialog
from tui.screens.joint_keys import ask_clamps
from tui.screens.questions import Answers, FormDialog, with_unit
from tui.stored import StoredJoint, stored_joint
from tui.widgets.form import Choice, Field
from tui.widgets.lines import Lines
from tui.words import head_line

YES, NO = "yes", "no"


class AfterScreen(RoomScreen):
    """What the curve showed, what the eye saw, and how the joint was closed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("v", "look_at"),
        Binding("r", "remark"),
        Binding("s", "sign"),
        Binding("c", "clamps"),
        Binding("n", "next"),
        Binding("down,pagedown", "read_on(1)"),
        Binding("up,pageup", "read_on(-1)"),
    ]
    DEFAULT_CSS = """
    AfterScreen Lines { width: 1fr; height: auto; }
    AfterScreen #head { height: 1; }
    AfterScreen #verdict { text-style: bold reverse; }
    AfterScreen #donot { text-style: bold; color: $warning; }
    AfterScreen #body { height: 1fr; scrollbar-size-vertical: 1; }
    AfterScreen #notice { text-style: bold; max-height: 2; }
    AfterScreen #keys { max-height: 2; dock: bottom; }
    AfterScreen.-low #head { display: none; }
    AfterScreen.-low #donot { max-height: 4; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.joint: StoredJoint | None = None
        self._last_uuid: str | None = None

    def compose(self) -> ComposeResult:
        yield Lines(id="head")
        yield Lines(id="verdict")
        yield Lines(id="donot")
        with VerticalScroll(id="body", can_focus=False):
            yield Lines(id="said")
            yield Lines(id="judged")
        yield Lines(id="notice")
        yield Lines(id=KEYS)

    def on_screen_resume(self, _: events.ScreenResume) -> None:
        self.work(self._ask)

    async def _ask(self) -> None:
        state = self.desk.picture.state
        try:
            uuid = state.last_joint_uuid if state is not None else None
            if uuid is None:
                found = await self.desk.link.get(JointList, "/v1/joints?limit=5")
                uuid = next((joint.uuid for joint in found.joints if joint.verdict is not None), None)
            self.joint = None if uuid is None else await stored_joint(self.desk.link, uuid)
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
        self.desk.look()

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        following = KeyOffer(key="n", name=label("next joint"), action="next")
        if self.joint is None:
            return (following,)
        keys = [KeyOffer(key="v", name=label("bead and look"), action="look_at")]
        keys.append(KeyOffer(key="r", name=label("remark"), action="remark"))
        if not self.joint.said("clamps_opened"):
            keys.append(KeyOffer(key="c", name=label("clamps opened"), action="clamps"))
        if not self.joint.said("sign_off"):
            keys.append(KeyOffer(key="s", name=label("sign off"), action="sign"))
        return (*keys, following)

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        last_uuid = picture.state.last_joint_uuid if picture.state else None
        if last_uuid != self._last_uuid:
            self._last_uuid = last_uuid
            self.work(self._ask)
        joint = self.joint
        texts: dict[str, list[str]] = {"head": [head_line(picture)], "donot": [], "said": [], "judged": []}
        texts["verdict"] = [tr("No joint has ended yet.")]
        if joint is not None:
            texts["verdict"] = [_verdict_line(joint)]
            cautions = (CautionCode.NO_FORCED_COOLING, CautionCode.PRESSURE_OIL)
            texts["donot"] = [
                *(do_not_lines(joint.plan) if joint.plan is not None else ()),
                *(f"▲ {caution_text(code)}" for code in cautions),
            ]
            texts["said"] = _said_lines(joint)
            texts["judged"] = self._judged(joint)
        for name, lines in texts.items():
            self.query_one(f"#{name}", Lines).show(*lines)

    def _judged(self, joint: StoredJoint) -> list[str]:
        if joint.judgement is None:
            return []
        columns = self.query_one("#judged").size.width or COLUMNS
        return judgement_lines(joint.judgement, joint.statements, min(columns, COLUMNS))

    def action_read_on(self, step: int) -> None:
        body = self.query_one("#body")
        body.scroll_relative(y=step * max(body.size.height - 1, 1), animate=False)

    def action_next(self) -> None:
        self.desk.action_room("entry")

    def action_clamps(self) -> None:
        ask_clamps(self, self.desk)

    def action_remark(self) -> None:
        joint = self.joint

        def answered(text: str | None) -> None:
            if text and joint is not None:
                command = RemarkCommand(
                    text=text, by=joint.detail.summary.operator or tr("operator not named")
                )

                async def send() -> None:
                    await self.desk.link.post(Said, f"/v1/joints/{joint.uuid}/remark", command)
                    await self._ask()

                self.desk.send(send, tr("Remark recorded."))

        self.app.push_screen(ReasonDialog(tr("Type the remark; it goes into the record.")), answered)

    def action_look_at(self) -> None:
        joint = self.joint
        if joint is None:
            return

        async def send(answers: Answers) -> str:
            command = VisualCommand.model_validate(
                {
                    **answers,
                    "is_accepted": answers["is_accepted"] == YES,
                    **{key: with_unit(answers[key], "mm") for key in _LENGTHS},
                }
            )
            await self.desk.link.post(Said, f"/v1/joints/{joint.uuid}/visual", command)
            return tr("Examination recorded.")

        question = tr("The joint as you see it. Measure the bead at its narrowest and its widest place.")
        fields = _visual_fields(joint.detail.summary.operator)
        self.app.push_screen(FormDialog(question, fields, send), self._after)

    def action_sign(self) -> None:
        joint = self.joint
        if joint is None:
            return

        async def send(answers: Answers) -> str:
            command = SignOffCommand.model_validate(
                {**answers, "is_number_marked": answers["is_number_marked"] == YES}
            )
            await self.desk.link.post(Said, f"/v1/joints/{joint.uuid}/sign-off", command)
            return tr("Joint signed off.")

        question = tr("Sign off joint {number}: this closes it.", number=joint.detail.summary.number or "?")
        self.app.push_screen(FormDialog(question, _sign_fields(joint), send), self._after)

    def _after(self, said: str | None) -> None:
        if said:
            self.desk.say(said)
        self.work(self._ask)


_LENGTHS = ("bead_width_least", "bead_width_greatest", "misalignment")


def _yes_no() -> tuple[Choice, ...]:
    return (Choice(value=YES, text=label("yes")), Choice(value=NO, text=label("no")))


def _visual_fields(operator: str) -> tuple[Field, ...]:
    notch = (
        Choice(value="not_to_the_surface", text=tr("does not reach the pipe")),
        Choice(value="to_the_surface", text=tr("reaches the pipe or deeper")),
        Choice(value="not_examined", text=tr("not examined")),
    )
    return (
        Field(key="bead_width_least", name=tr("least bead width"), hint="mm", is_needed=True),
        Field(key="bead_width_greatest", name=tr("greatest bead width"), hint="mm", is_needed=True),
        Field(key="notch", name=tr("notch between"), choices=notch, is_closed=True, is_needed=True),
        Field(key="misalignment", name=tr("misalignment"), hint="mm", is_needed=True),
        Field(key="look", name=tr("look of the bead"), is_needed=True),
        Field(
            key="is_accepted", name=tr("accepted by eye"), choices=_yes_no(), is_closed=True, is_needed=True
        ),
        Field(key="by", name=tr("examined by"), value=operator, is_needed=True),
    )


def _sign_fields(joint: StoredJoint) -> tuple[Field, ...]:
    """A nonconforming joint closes only as cut out or by concession."""
    ways = {"made": tr("made"), "cut_out": tr("cut out"), "concession": tr("concession")}
    if joint.judgement is not None and joint.judgement.verdict is Verdict.NONCONFORMING:
        del ways["made"]
    closed_as = tuple(Choice(value=key, text=text) for key, text in ways.items())
    marked, operator = _yes_no(), joint.detail.summary.operator
    return (
        Field(
            key="is_number_marked",
            name=tr("number on the pipe"),
            choices=marked,
            is_closed=True,
            is_needed=True,
        ),
        Field(key="closed_as", name=tr("closed as"), choices=closed_as, is_closed=True, is_needed=True),
        Field(key="concession_by", name=tr("concession by")),
        Field(key="by", name=tr("signed by"), value=operator, is_needed=True),
    )


def _verdict_line(joint: StoredJoint) -> str:
    summary = joint.detail.summary
    if joint.judgement is None:
        return tr("Joint {number}: not judged", number=summary.number or "?")
    verdict = tr(VERDICT_NAMES[joint.judgement.verdict])
    return tr("Joint {number}: curve {verdict}", number=summary.number or "?", verdict=verdict)


def _said_lines(joint: StoredJoint) -> list[str]:
    signed = [
        tr("Signed off by {name}: {how}", name=said.author, how=_how(said.body))
        for said in joint.said("sign_off")
    ]
    remarks = [
        tr("Remark by {name}: {what}", name=r.author, what=r.body.get("text", ""))
        for r in joint.said("remark")
    ]
    return [*(signed or [tr("Not signed off yet.")]), *remarks, ""]


def _how(body: dict[str, object]) -> str:
    ways = {"made": tr("made"), "cut_out": tr("cut out"), "concession": tr("concession")}
    way = str(body.get("closed_as"))
    return " ".join(part for part in (ways.get(way, way), str(body.get("concession_by") or "")) if part)
