"""A whole live joint with somebody listening on the wire: the rig is asked, never told."""

import contextlib
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.system.processes import Recorder, simulated, tcp_bus

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

HEADER_BYTES = 6
"""Of a Modbus TCP request, up to and with its length field."""


class Tap:
    """Passes bytes on between a recorder and a rig, keeping all that the recorder sends."""

    def __init__(self, rig_port: int) -> None:
        self.sent: list[bytearray] = []
        self._rig_port = rig_port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._ends: list[socket.socket] = []
        self._threads = [threading.Thread(target=self._accept)]
        self._threads[0].start()

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._threads[0].join()
        for end in self._ends:
            # One side may have gone without a word: nobody then waits for it.
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
        for thread in self._threads:
            thread.join()

    def function_codes(self) -> list[int]:
        """Of every request, in order, connection by connection."""
        return [code for stream in self.sent for code in codes_in(bytes(stream))]

    def _accept(self) -> None:
        while True:
            try:
                recorder, _ = self._listener.accept()
            except OSError:
                return
            rig = socket.create_connection(("127.0.0.1", self._rig_port))
            kept = bytearray()
            self.sent.append(kept)
            self._ends += [recorder, rig]
            for source, sink, keep in ((recorder, rig, kept), (rig, recorder, bytearray())):
                thread = threading.Thread(target=pass_on, args=(source, sink, keep))
                self._threads.append(thread)
                thread.start()


def pass_on(source: socket.socket, sink: socket.socket, kept: bytearray) -> None:
    with source, contextlib.suppress(OSError):
        while data := source.recv(4096):
            kept += data
            sink.sendall(data)
        sink.shutdown(socket.SHUT_RDWR)


def codes_in(stream: bytes) -> Iterator[int]:
    while len(stream) > HEADER_BYTES + 1:
        yield stream[HEADER_BYTES + 1]
        stream = stream[HEADER_BYTES + int.from_bytes(stream[4:6]) :]


def test_a_write_on_the_wire_would_be_seen() -> None:
    read, write = (
        bytes.fromhex("0001 0000 0006 01 04 0000 0004"),
        bytes.fromhex("0002 0000 0006 01 06 0000 0001"),
    )
    assert list(codes_in(read + write + read)) == [4, 6, 4]


def test_in_a_whole_joint_only_reads_are_sent(folder: Path) -> None:
    with simulated("clean", folder) as rig, contextlib.closing(Tap(rig.port)) as tap:
        recorder = Recorder(folder / "r", tcp_bus(tap.port))
        rig.pause()
        with recorder.recording():
            rig.resume()
            recorder.until_ended()
    codes = tap.function_codes()
    assert len(codes) >= len(recorder.samples()) > 1000
    assert set(codes) <= {1, 2, 3, 4}
