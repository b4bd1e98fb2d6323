"""Commands that ask devices themselves stay away from a rig on which a joint is being made."""

from contextlib import closing
from pathlib import Path

from logger.cli.link import Link, NoRecorderError
from logger.cli.places import default_socket
from logger.errors import DeviceError


def refuse_while_recording(socket: Path | None, what: str) -> None:
    """Raise DeviceError when the recorder on this machine has a joint open, or does not say.

    No recorder is no obstacle; one that is there and does not answer may well have a joint open.
    """
    with closing(Link(socket or default_socket())) as link:
        try:
            state = link.state()
        except NoRecorderError:
            return
    if state.joint_uuid is not None:
        joint = state.joint or "a joint without a name"
        raise DeviceError(f"{joint} is being recorded on {state.rig}: {what} waits until it has ended")
