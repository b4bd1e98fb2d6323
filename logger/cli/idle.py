"""Commands that ask devices themselves stay away from a rig on which a joint is being made."""

import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from logger.cli.link import Link, NoRecorderError
from logger.cli.places import default_socket
from logger.errors import DeviceError
from logger.wire.live import StateMessage

LOOK_EVERY_S = 1.0
PATIENCE_S = 2.0
"""How long a look waits for the recorder: a question to the bus waits behind it."""


def refuse_while_recording(socket: Path | None, what: str) -> None:
    """Raise DeviceError when the recorder on this machine has a joint open, or does not say.

    No recorder is no obstacle; one that is there and does not answer may well have a joint open.
    """
    _refuse_joint(_state(socket or default_socket()), f"{what} waits until it has ended")


class Lookout:
    """Watches for a recorder while a command of some length asks devices: made before the first question."""

    def __init__(self, socket: Path | None, what: str, mono_s: Callable[[], float] = time.monotonic) -> None:
        """Raises DeviceError as `refuse_while_recording` does."""
        self._socket = socket or default_socket()
        self._what = what
        self._mono_s = mono_s
        state = _state(self._socket)
        _refuse_joint(state, f"{what} waits until it has ended")
        self._was_there = state is not None
        self._looked_s = mono_s()

    def look(self) -> None:
        """Go between two questions; it looks once a second at most.

        Raises DeviceError where a joint has been opened, a recorder has been started, which wants the port
        for itself, or one that is there does not answer.
        """
        if self._mono_s() - self._looked_s < LOOK_EVERY_S:
            return
        state = _state(self._socket, PATIENCE_S)
        self._looked_s = self._mono_s()
        _refuse_joint(state, f"{self._what} has stopped")
        if state is not None and not self._was_there:
            raise DeviceError(
                f"a recorder was started for {state.rig}: {self._what} has stopped, to leave it the bus"
            )
        self._was_there = state is not None


def _state(socket: Path, timeout_s: float = 5.0) -> StateMessage | None:
    with closing(Link(socket, timeout_s)) as link:
        try:
            return link.state()
        except NoRecorderError:
            return None


def _refuse_joint(state: StateMessage | None, so: str) -> None:
    if state is not None and state.joint_uuid is not None:
        raise DeviceError(f"{state.joint or 'a joint without a name'} is being recorded on {state.rig}: {so}")
