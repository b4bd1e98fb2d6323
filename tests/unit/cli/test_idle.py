"""A recorder that listens and does not answer may have a joint open: nobody asks its devices then."""

import socket
import threading
from pathlib import Path

import pytest

from logger.cli.idle import refuse_while_recording
from logger.errors import DeviceError


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
