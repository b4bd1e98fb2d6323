"""The joint that has ended: verdict in plain words, the look at the bead, remarks, sign-off."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

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
from tui.screens.claim import ask_claim, is_unnamed, unnamed_text
from tui.screens.closing_fields import LENGTHS, YES, sign_fields, visual_fields, way_text
from tui.screens.dialogs import ReasonDialog
from tui.screens.joint_keys import ask_clamps
from tui.screens.questions import Answers, FormDialog, with_unit
from tui.stored import StoredJoint, stored_joint
from tui.widgets.lines import Lines
from tui.words import head_line

KNOWN = 50
"""Joints that are gone through with keys; older ones are picked from the history."""


class AfterScreen(RoomScreen):
    """What the curve showed, what the eye saw, and how the joint was closed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("v", "look_at"),
        Binding("r", "remark"),
        Binding("s", "sign"),
        Binding("c", "clamps"),
        Binding("n", "next"),
        Binding("g", "name"),
        Binding("e", "other(1)"),
        Binding("l", "other(-1)"),
        Binding("down,pagedown", "read_on(1)"),
        Binding("up,pageup", "read_on(-1)"),
    ]
    DEFAULT_CSS = """
    AfterScreen Lines { width: 1fr; height: auto; }
    AfterScreen #head { height: 1; }
    AfterScreen #verdict { text-style: bold reverse; }
    AfterScreen #donot, AfterScreen #cautions { text-style: bold; color: $warning; }
    AfterScreen #body { height: 1fr; scrollbar-size-vertical: 1; }
    AfterScreen #notice { text-style: bold; max-height: 2; }
    AfterScreen #keys { max-height: 2; dock: bottom; }
    AfterScreen.-low #head { display: none; }
    AfterScreen.-low #donot { max-height: 8; }
    AfterScreen.-low #keys { max-height: 1; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.joint: StoredJoint | None = None
        self._last_uuid: str | None = None
        self._ended: tuple[str, ...] = ()

    def compose(self) -> ComposeResult:
        yield Lines(id="head")
        yield Lines(id="verdict")
        yield Lines(id="donot")
        with VerticalScroll(id="body", can_focus=False):
            yield Lines(id="cautions")
            yield Lines(id="said")
            yield Lines(id="judged")
        yield Lines(id="notice")
        yield Lines(id=KEYS)

    def on_screen_resume(self, _: events.ScreenResume) -> None:
        self.work(self._ask)

    async def _ask(self) -> None:
        state = self.desk.picture.state
        try:
            found = await self.desk.link.get(JointList, f"/v1/joints?limit={KNOWN}")
            self._ended = tuple(joint.uuid for joint in found.joints if joint.ended is not None)
            last = (state.last_joint_uuid if state else None) or next(iter(self._ended), None)
            uuid = self.desk.chosen_uuid or last
            self.joint = None if uuid is None else await stored_joint(self.desk.link, uuid)
        except BeadwatchError as error:
            self.desk.say(tr("NOT DONE: {reason}", reason=error))
        self.desk.look()

    def _place(self, step: int) -> str | None:
        """The joint that ended so many before this one; None where there is none."""
        if self.joint is None or self.joint.uuid not in self._ended:
            return None
        place = self._ended.index(self.joint.uuid) + step
        return self._ended[place] if 0 <= place < len(self._ended) else None

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        following = KeyOffer(key="n", name=label("next joint"), action="next")
        if self.joint is None:
            return (following,)
        keys = [KeyOffer(key="v", name=label("bead and look"), action="look_at")]
        keys.append(KeyOffer(key="r", name=label("remark"), action="remark"))
        if is_unnamed(self.joint.detail.summary):
            keys.append(KeyOffer(key="g", name=label("give a name"), action="name"))
        if self.joint.uuid == self._last_uuid and not self.joint.said("clamps_opened"):
            keys.append(KeyOffer(key="c", name=label("clamps opened"), action="clamps"))
        if not self.joint.said("sign_off"):
            keys.append(KeyOffer(key="s", name=label("sign off"), action="sign"))
        others = ((1, "e", label("joint before")), (-1, "l", label("joint after")))
        steps = [
            KeyOffer(key=key, name=name, action=f"other({step})")
            for step, key, name in others
            if self._place(step) is not None
        ]
        return (*keys, following, *steps)

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        last_uuid = picture.state.last_joint_uuid if picture.state else None
        if last_uuid != self._last_uuid:
            if self._last_uuid is not None:
                # The joint that has just ended comes to the front.
                self.desk.chosen_uuid = None
            self._last_uuid = last_uuid
            self.work(self._ask)
        joint = self.joint
        texts: dict[str, list[str]] = {
            "head": [head_line(picture)],
            "donot": [],
            "cautions": [],
            "said": [],
            "judged": [],
        }
        texts["verdict"] = [tr("No joint has ended yet.")]
        if joint is not None:
            texts["verdict"] = [_verdict_line(joint)]
            cautions = (CautionCode.NO_FORCED_COOLING, CautionCode.PRESSURE_OIL)
            texts["donot"] = do_not_lines(joint.plan) if joint.plan is not None else []
            texts["cautions"] = [f"▲ {caution_text(code)}" for code in cautions]
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

    def action_other(self, step: int) -> None:
        uuid = self._place(step)
        if uuid is not None:
            self.desk.chosen_uuid = uuid
            self.work(self._ask)

    def action_name(self) -> None:
        if self.joint is not None:
            ask_claim(self, self.desk, self.joint.detail.summary, lambda: self.work(self._ask))

    def action_clamps(self) -> None:
        ask_clamps(self, self.desk, self._last_uuid)

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
                    **{key: with_unit(answers[key], "mm") for key in LENGTHS},
                }
            )
            await self.desk.link.post(Said, f"/v1/joints/{joint.uuid}/visual", command)
            return tr("Examination recorded.")

        question = tr("The joint as you see it. Measure the bead at its narrowest and its widest place.")
        fields = visual_fields(joint.detail.summary.operator)
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
        self.app.push_screen(FormDialog(question, sign_fields(joint), send), self._after)

    def _after(self, said: str | None) -> None:
        if said:
            self.desk.say(said)
        self.work(self._ask)


def _verdict_line(joint: StoredJoint) -> str:
    summary = joint.detail.summary
    if is_unnamed(summary):
        return unnamed_text(summary)
    if joint.judgement is None:
        return tr("Joint {number}: not judged", number=summary.number or "?")
    verdict = tr(VERDICT_NAMES[joint.judgement.verdict])
    return tr("Joint {number}: curve {verdict}", number=summary.number or "?", verdict=verdict)


def _said_lines(joint: StoredJoint) -> list[str]:
    signed = [
        tr("Signed off by {name}: {how}", name=said.author, how=way_text(said.body))
        for said in joint.said("sign_off")
    ]
    remarks = [
        tr("Remark by {name}: {what}", name=r.author, what=r.body.get("text", ""))
        for r in joint.said("remark")
    ]
    return [*(signed or [tr("Not signed off yet.")]), *remarks, ""]
