"""Binding the socket where something is in its place already."""

import os
import socket
import subprocess
import sys
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


def test_a_socket_that_a_recorder_left_behind_is_taken_over(left_behind: Path) -> None:
    with bind(left_behind) as listener:
        assert listener.getsockname() == str(left_behind)
        assert left_behind.stat().st_mode & 0o777 == 0o600


def test_a_recorder_that_listens_is_not_turned_out(open_folder: Path) -> None:
    path = open_folder / "r.sock"
    with bind(path) as listener:
        listener.listen()
        with pytest.raises(DeviceError, match="another recorder is running on"):
            bind(path)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")
@pytest.mark.parametrize(("mode", "told"), [(0o600, "belongs to another user"), (0o666, "cannot be removed")])
def test_another_users_socket_is_left_alone_and_told_in_one_line(
    open_folder: Path, mode: int, told: str
) -> None:
    path = open_folder / "r.sock"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as gone:
        gone.bind(str(path))
    path.chmod(mode)
    run = subprocess.run(
        [sys.executable, "-c", AS_NOBODY, str(path)], capture_output=True, text=True, check=False, timeout=60
    )
    assert run.returncode == 1
    assert told in run.stderr
    assert "Traceback" not in run.stderr
    assert path.exists()
