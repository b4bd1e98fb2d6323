"""Asking a recorder that is not there: one clear error, and nothing left open behind it."""

import gc
import socket
from contextlib import closing
from pathlib import Path

import pytest

from logger.cli.link import Link
from logger.errors import DeviceError


@pytest.mark.parametrize("times", [1, 3])
def test_a_refused_connection_leaves_no_socket_open(left_behind: Path, times: int) -> None:
    made = []
    opened = socket.socket

    class Counted(opened):  # type: ignore[misc, valid-type]
        def __init__(self, *args, **kwargs):
            super().__init__(*args, **kwargs)
            made.append(self)

    with pytest.MonkeyPatch.context() as patch, closing(Link(left_behind)) as link:
        patch.setattr(socket, "socket", Counted)
        for _ in range(times):
            with pytest.raises(DeviceError, match="no recorder answers"):
                link.state()
    assert len(made) == times
    assert [one.fileno() for one in made] == [-1] * times
    made.clear()
    gc.collect()


def test_a_missing_socket_is_named(tmp_path: Path) -> None:
    with closing(Link(tmp_path / "none.sock")) as link, pytest.raises(DeviceError, match=r"none\.sock"):
        link.state()
