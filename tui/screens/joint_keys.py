"""What the keys of the joint do: said to the recorder in the operator's name."""

from textual.screen import Screen

from logger.wire.desk import BeadCommand, ClampsOpenedCommand, Said
from logger.wire.live import AbortCommand, Accepted
from tui.catalogue import tr
from tui.model import Picture
from tui.screens.base import Desk
from tui.screens.dialogs import ConfirmDialog, ReasonDialog


def operator_of(picture: Picture) -> str:
    return picture.operator or tr("operator not named")


def confirm_bead(desk: Desk) -> None:
    """The bead was seen all round. One key: the eye is on the bead, not on the screen."""
    command = BeadCommand(by=operator_of(desk.picture))
    desk.send(lambda: desk.link.post(Accepted, "/v1/joint/bead", command), tr("Bead recorded as seen."))


def ask_to_break_off(screen: Screen[None], desk: Desk) -> None:
    def answered(reason: str | None) -> None:
        if reason:
            command = AbortCommand(reason=reason)
            desk.send(lambda: desk.link.post(Accepted, "/v1/joint/abort", command), tr("Joint broken off."))

    question = tr("Break this joint off for good? Type the reason; it goes into the record.")
    screen.app.push_screen(ReasonDialog(question), answered)


def ask_clamps(screen: Screen[None], desk: Desk, joint_uuid: str | None = None) -> None:
    """Of this joint, else of the one that is shown live."""

    def answered(answer: object) -> None:
        if answer:
            picture = desk.picture
            command = ClampsOpenedCommand(
                joint_uuid=joint_uuid or picture.joint_uuid or "", by=operator_of(picture)
            )
            done = tr("Clamps recorded as opened.")
            desk.send(lambda: desk.link.post(Said, "/v1/joint/clamps-opened", command), done)

    screen.app.push_screen(ConfirmDialog(tr("Are the clamps open? The time goes into the record.")), answered)
