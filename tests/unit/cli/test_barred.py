"""A recorder and a record of another user: whose they are and what to do, not "no recorder"."""

import os
import socket
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from logger.cli.barred import Bar, barred_record_text, barred_text, is_barred
from logger.cli.hand import hand_of
from logger.cli.idle import refuse_while_recording
from logger.cli.link import BarredError, Link
from logger.domain.record import Stamp
from logger.errors import StoreError
from logger.store.writer import Writer

SOCKET = "/run/beadwatch/beadwatch.sock"
WORDS = ("state", "--socket", SOCKET)
IS_ROOT = os.geteuid() == 0
NOBODY = 65534
AS_NOBODY = f"""
import contextlib, io, os, sys
from logger.cli.main import main
def run(words):
    sys.argv = ["beadwatch", *words]
    try:
        main()
        return 0
    except SystemExit as stop:
        return stop.code
asked = sys.argv[1:]
with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
    run([word.replace("r.sock", "none.sock") for word in asked])
os.setgroups([])
os.setgid({NOBODY})
os.setuid({NOBODY})
sys.exit(run(asked))
"""
"""All that the command imports is read before the privileges are dropped."""


def text(owner: str, mode: int, *, is_folder: bool = False) -> str:
    path = str(Path(SOCKET).parent) if is_folder else SOCKET
    bar = Bar(path=path, owner=owner, group="welders", mode=mode, is_folder=is_folder)
    return barred_text(f"the recorder on {SOCKET}", bar, "mara", WORDS)


def test_another_users_socket_names_its_user_and_the_command_as_that_user() -> None:
    assert text("beadwatch", 0o600) == (
        f"the recorder on {SOCKET} belongs to the user beadwatch, and mara may not reach it; "
        f"run it as that user: sudo -u beadwatch beadwatch state --socket {SOCKET}"
    )
    assert "lies in a folder that belongs to the user beadwatch" in text("beadwatch", 0o750, is_folder=True)


@pytest.mark.parametrize(("mode", "helps"), [(0o660, True), (0o600, False), (0o640, False)])
def test_a_group_is_named_where_it_would_help(mode: int, *, helps: bool) -> None:
    assert ("member of the group welders" in text("beadwatch", mode)) is helps


def test_ones_own_file_is_a_matter_of_its_mode() -> None:
    told = text("mara", 0)
    assert told.endswith(f"is yours, but its mode 0000 bars you: chmod u+rw {SOCKET}")
    assert "sudo" not in told


@pytest.fixture
def refusing(left_behind: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A socket whose connections the system refuses to this user."""

    class Refused(socket.socket):
        def connect(self, _address: object) -> None:
            raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(socket, "socket", Refused)
    return left_behind


def test_a_refused_socket_is_no_missing_recorder(refusing: Path) -> None:
    with closing(Link(refusing)) as link, pytest.raises(BarredError, match=r"the recorder on r\.sock"):
        link.state()
    with pytest.raises(BarredError):
        refuse_while_recording(refusing, "scan")
    with pytest.raises(BarredError), hand_of(refusing.with_name("record.db"), refusing):
        pass
    assert not refusing.with_name("record.db").exists(), "another user's recorder may be the writer"


def test_a_record_that_fails_for_another_reason_is_told_as_it_is() -> None:
    assert barred_record_text(StoreError("full")) is None
    error = StoreError("x")
    error.__cause__ = OSError(28, "No space left on device")
    assert barred_record_text(error) is None


def as_nobody(*words: object) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", AS_NOBODY, *map(str, words)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        cwd=Path(__file__).parents[3],
    )


@pytest.mark.skipif(not IS_ROOT, reason="only root can become another user")
def test_another_user_is_told_by_every_command(open_folder: Path) -> None:
    path, store = open_folder / "r.sock", open_folder / "record.db"
    with closing(Writer(store, at=Stamp(utc="2031-05-04T06:00:00Z", utc_verified=True, mono_ms=0))):
        pass
    store.chmod(0o600)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()
        path.chmod(0)
        state = as_nobody("state", "--socket", path)
        status = as_nobody("status", "--socket", path, "--store", store)
        joints = as_nobody("joints", "list", "--store", store)
        scan = as_nobody("scan", "127.0.0.1:1", "--socket", path)
        open_folder.chmod(0o700)
        shut_in = as_nobody("state", "--socket", path)
        status_shut_in = as_nobody("status", "--socket", path, "--store", store)
    run_it = "run it as that user: sudo -u root beadwatch"
    assert state.returncode == status.returncode == joints.returncode == scan.returncode == 5
    assert state.stderr == (
        f"beadwatch: the recorder on {path} belongs to the user root, and nobody may not reach it; "
        f"{run_it} state --socket {path}\n"
    )
    assert "no recorder" not in status.stderr
    assert "not running" not in status.stdout
    assert f"{run_it} status" in status.stderr
    assert f"record       {store} belongs to the user root" in status.stdout
    assert f"the record {store} belongs to the user root" in joints.stderr
    assert f"{run_it} joints list" in joints.stderr
    assert "belongs to the user root" in scan.stderr
    assert shut_in.returncode == status_shut_in.returncode == 5
    assert f"the recorder on {path} lies in a folder that belongs to the user root" in shut_in.stderr
    assert "lies in a folder" in status_shut_in.stdout


@pytest.mark.skipif(IS_ROOT, reason="root may open everything")
def test_a_socket_of_ones_own_that_nobody_may_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    path = Path("r.sock")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()
        path.chmod(0)
        with closing(Link(path)) as link, pytest.raises(BarredError, match="is yours, but its mode 0000"):
            link.state()


def test_what_is_not_there_is_not_barred(tmp_path: Path) -> None:
    assert not is_barred(tmp_path / "nothing")
    assert not is_barred(tmp_path)
