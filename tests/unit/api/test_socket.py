"""Binding the socket where something is in its place already."""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.api.socket import bind
from logger.errors import DeviceError

NOBODY = 65534
AS_NOBODY = f"""
import os, sys
from pathlib import Path
from logger.api.socket import bind
from logger.errors import DeviceError
os.setgroups([])
os.setgid({NOBODY})
os.setuid({NOBODY})
try:
    bind(Path(sys.argv[1]))
except DeviceError as error:
    sys.exit(str(error))
"""


@pytest.fixture
def short_tmp() -> Iterator[Path]:
    """A folder that everybody may enter, with a path short enough for a socket."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


def left_behind(path: Path) -> None:
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    listener.bind(str(path))
    listener.close()


def test_a_socket_that_a_recorder_left_behind_is_taken_over(short_tmp: Path) -> None:
    path = short_tmp / "r.sock"
    left_behind(path)
    with bind(path) as listener:
        assert listener.getsockname() == str(path)
        assert path.stat().st_mode & 0o777 == 0o600


def test_a_recorder_that_listens_is_not_turned_out(short_tmp: Path) -> None:
    path = short_tmp / "r.sock"
    with bind(path) as listener:
        listener.listen()
        with pytest.raises(DeviceError, match="another recorder is running on"):
            bind(path)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")
@pytest.mark.parametrize(("mode", "told"), [(0o600, "belongs to another user"), (0o666, "cannot be removed")])
def test_another_users_socket_is_left_alone_and_told_in_one_line(
    short_tmp: Path, mode: int, told: str
) -> None:
    path = short_tmp / "r.sock"
    left_behind(path)
    path.chmod(mode)
    run = subprocess.run(
        [sys.executable, "-c", AS_NOBODY, str(path)], capture_output=True, text=True, check=False, timeout=60
    )
    assert run.returncode == 1
    assert told in run.stderr
    assert "Traceback" not in run.stderr
    assert path.exists()
