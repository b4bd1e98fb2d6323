"""A joint that was recorded without a name is given one: by whom, and why it had none."""

from collections.abc import Callable

from textual.screen import Screen

from logger.domain.judgement import Verdict
from logger.wire.history import JointSummary
from logger.wire.live import Accepted, ClaimCommand
from logger.wording.events import VERDICT_NAMES
from tui.catalogue import tr
from tui.screens.base import Desk
from tui.screens.questions import Answers, FormDialog
from tui.widgets.form import Field


def is_unnamed(joint: JointSummary) -> bool:
    """Whether it has ended and waits for a name."""
    return joint.number is None and joint.ended is not None


def unnamed_text(joint: JointSummary) -> str:
    """Which joint it is: when it was made, and the verdict of its curve."""
    verdict = tr("not judged") if joint.verdict is None else tr(VERDICT_NAMES[Verdict(joint.verdict)])
    when = joint.opened_utc[:16].replace("T", " ")
    return tr("Joint without a name, {when} UTC, curve {verdict}", when=when, verdict=verdict)


def ask_claim(screen: Screen[None], desk: Desk, joint: JointSummary, after: Callable[[], None]) -> None:
    """Ask for number, project, name and reason; `after` is called once the question is gone."""
    fields = (
        Field(key="number", name=tr("joint number"), is_needed=True),
        Field(key="project", name=tr("project")),
        Field(key="claimed_by", name=tr("named by"), is_needed=True),
        Field(key="reason", name=tr("why it had none"), is_needed=True),
    )

    async def send(answers: Answers) -> str:
        command = ClaimCommand(joint_uuid=joint.uuid, **answers)
        accepted = await desk.link.post(Accepted, "/v1/joint/claim", command)
        if accepted.attempt in (None, 1):
            return tr("Named; number, name and reason are in the record.")
        return tr("Named; it is attempt {n} of this number.", n=accepted.attempt)

    def answered(said: str | None) -> None:
        if said:
            desk.say(said)
        after()

    question = tr("{joint}. It is judged without a plan and stays so.", joint=unnamed_text(joint))
    screen.app.push_screen(FormDialog(question, fields, send), answered)
