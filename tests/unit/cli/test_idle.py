"""A recorder that listens and does not answer may have a joint open: nobody asks its devices then."""

import socket
import threading
from pathlib import Path

import pytest

from logger.cli.idle import LOOK_EVERY_S, Lookout, refuse_while_recording
from logger.cli.link import Link, NoRecorderError
from logger.errors import DeviceError
from logger.wire.live import StateMessage
from tests.unit.wire.messages import STATE


def test_no_recorder_is_no_obstacle(tmp_path: Path) -> None:
    refuse_while_recording(tmp_path / "nobody", "scan")


def test_one_that_hangs_up_is(tmp_path: Path) -> None:
    path = tmp_path / "s"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()

        def hang_up() -> None:
            for _ in range(2):
                listener.accept()[0].close()

        thread = threading.Thread(target=hang_up, daemon=True)
        thread.start()
        with pytest.raises(DeviceError, match="no recorder answers"):
            refuse_while_recording(path, "scan")
        thread.join()


class Recorders:
    """What a look finds: None where no recorder is, else the joint that is open; and a clock set by hand."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.now_s = 0.0
        self.found: StateMessage | DeviceError | None = None
        self.asked = 0
        patch.setattr(Link, "state", lambda _link: self._state())

    def _state(self) -> StateMessage:
        self.asked += 1
        if self.found is None:
            raise NoRecorderError("no recorder answers")
        if isinstance(self.found, DeviceError):
            raise self.found
        return self.found

    def lookout(self) -> Lookout:
        return Lookout(Path("r.sock"), "scan", lambda: self.now_s)

    def look(self, lookout: Lookout) -> None:
        """A second later."""
        self.now_s += LOOK_EVERY_S
        lookout.look()


def idle() -> StateMessage:
    return STATE.model_copy(update={"joint": None, "joint_uuid": None, "rig": "Heron 160"})


def recording(joint: str | None) -> StateMessage:
    return idle().model_copy(update={"joint": joint, "joint_uuid": "0b1c"})


@pytest.fixture
def recorders(monkeypatch: pytest.MonkeyPatch) -> Recorders:
    return Recorders(monkeypatch)


def test_nobody_there_is_asked_for_once_a_second(recorders: Recorders) -> None:
    lookout = recorders.lookout()
    for _ in range(30):
        recorders.now_s += LOOK_EVERY_S / 10
        lookout.look()
    assert recorders.asked in (3, 4)


def test_a_recorder_that_is_started_stops_the_command(recorders: Recorders) -> None:
    lookout = recorders.lookout()
    recorders.look(lookout)
    recorders.found = idle()
    with pytest.raises(DeviceError, match="a recorder was started for Heron 160: scan has stopped"):
        recorders.look(lookout)


def test_one_that_was_there_is_minded_only_with_a_joint(recorders: Recorders) -> None:
    recorders.found = idle()
    lookout = recorders.lookout()
    recorders.look(lookout)
    recorders.found = recording("K-117")
    with pytest.raises(DeviceError, match="K-117 is being recorded on Heron 160: scan has stopped"):
        recorders.look(lookout)
    recorders.found = recording(None)
    with pytest.raises(DeviceError, match="a joint without a name is being recorded"):
        recorders.look(lookout)


def test_one_that_has_gone_and_come_again_is_a_new_one(recorders: Recorders) -> None:
    recorders.found = idle()
    lookout = recorders.lookout()
    recorders.found = None
    recorders.look(lookout)
    recorders.found = idle()
    with pytest.raises(DeviceError, match="was started"):
        recorders.look(lookout)


def test_one_that_falls_silent_may_have_a_joint_open(recorders: Recorders) -> None:
    lookout = recorders.lookout()
    recorders.found = DeviceError("no recorder answers on r.sock: timed out")
    with pytest.raises(DeviceError, match="timed out"):
        recorders.look(lookout)


def test_nothing_is_begun_while_a_joint_is_open(recorders: Recorders) -> None:
    recorders.found = recording("K-117")
    with pytest.raises(DeviceError, match="K-117 is being recorded on Heron 160: scan waits"):
        recorders.lookout()
