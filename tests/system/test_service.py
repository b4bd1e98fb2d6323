"""The recorder under a service manager: ready, alive, the rig file read again between joints, status."""

import os
import signal
import socket
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.system.processes import JOINT_FILE, Recorder, beadwatch, tcp_bus, until

pytestmark = pytest.mark.system


@pytest.fixture
def manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    """The socket of a service manager with a watchdog of two seconds."""
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as listener:
        listener.bind(str(tmp_path / "notify"))
        listener.settimeout(60)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        monkeypatch.setenv("WATCHDOG_USEC", "2000000")
        monkeypatch.delenv("WATCHDOG_PID", raising=False)
        yield listener


@pytest.fixture
def recorder(tmp_path: Path) -> Recorder:
    """A recorder whose rig answers nothing: port 1 of this machine."""
    return Recorder(tmp_path, tcp_bus(1), time_scale=1.0)


def told_until(manager: socket.socket, wanted: str) -> list[str]:
    told: list[str] = []
    while not told or not told[-1].startswith(wanted):
        told.append(manager.recv(4096).decode())
    return told


def renamed(recorder: Recorder, name: str) -> None:
    lines = recorder.rig_file.read_text(encoding="utf-8").splitlines()
    recorder.rig_file.write_text(
        "\n".join(f'name = "{name}"' if line.startswith("name =") else line for line in lines),
        encoding="utf-8",
    )


def test_it_is_ready_alive_and_reads_its_rig_file_again(recorder: Recorder, manager: socket.socket) -> None:
    with recorder.recording(joint_file=None) as process:
        assert "STATUS=recording" in told_until(manager, "READY=1")[-1]
        told_until(manager, "WATCHDOG=1")
        renamed(recorder, "renamed rig")
        os.kill(process.pid, signal.SIGHUP)
        assert told_until(manager, "READY=1")[-1].endswith("recording renamed rig")
        until(
            lambda: recorder.answers() and recorder.state().rig == "renamed rig", "the new name", recorder.log
        )
        recorder.rig_file.write_text("name = 7", encoding="utf-8")
        os.kill(process.pid, signal.SIGHUP)
        assert "STATUS=rig file not read again" in told_until(manager, "STATUS=")[-1]
        assert recorder.state().rig == "renamed rig"
    told_until(manager, "STOPPING=1")


def test_under_an_open_joint_the_rig_stays_as_it_is(recorder: Recorder, manager: socket.socket) -> None:
    with recorder.recording(JOINT_FILE) as process:
        before = recorder.state().rig
        renamed(recorder, "renamed rig")
        os.kill(process.pid, signal.SIGHUP)
        assert told_until(manager, "STATUS=")[-1] == "STATUS=rig file not read again: a joint is open"
        assert recorder.state().rig == before


def test_status_says_what_runs_and_what_does_not(recorder: Recorder) -> None:
    where = ["--store", recorder.store, "--socket", recorder.socket]
    stopped = beadwatch("status", recorder.rig_file, *where)
    assert stopped.returncode == 5
    assert "recorder     not running" in stopped.stdout
    assert "no record yet" in stopped.stdout
    with recorder.recording(joint_file=None):
        running = beadwatch("status", recorder.rig_file, *where)
    assert "recorder     running" in running.stdout
    assert "written, 0 waiting, 0 dropped" in running.stdout
    assert "forward      no forwarder" in running.stdout
    assert running.returncode == 5, "its channels give no readings"
    again = beadwatch("status", recorder.rig_file, *where)
    assert "last run ended: stopped" in again.stdout
