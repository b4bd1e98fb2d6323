"""An open text port and the thread that reads it: the only place that sends bytes to a text device."""

import asyncio
import contextlib
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import serial

from logger.acquire.rtu_frame import crc16
from logger.acquire.serial_port import character_format, open_fault
from logger.domain.bus import SerialLineBus
from logger.domain.clock import Clock
from logger.errors import DeviceError

_READ_S = 0.05
_CRC_BYTES = 2
_MAX_LINE_BYTES = 4096
_MAX_LINES = 256


@dataclass(frozen=True, slots=True)
class Line:
    data: bytes
    received_s: float


def open_port(bus: SerialLineBus) -> serial.SerialBase:
    """Open the port or URL for this process alone. Raises DeviceError; a Modbus frame is no request here."""
    request = (bus.poll_request or "").encode(bus.encoding, "replace")
    if len(request) > _CRC_BYTES and crc16(request[:-_CRC_BYTES]) == request[-_CRC_BYTES:]:
        raise DeviceError(f"{bus.name} ({bus.path}): poll_request is a Modbus frame; use kind modbus-rtu")
    try:
        return serial.serial_for_url(
            bus.path,
            baudrate=bus.baudrate,
            **character_format(bus.path, bus.parity, bus.data_bits),
            stopbits=bus.stop_bits,
            timeout=_READ_S,
            exclusive=True,
        )
    except (OSError, ValueError) as error:
        raise DeviceError(f"{bus.name} ({bus.path}): {open_fault(error)}") from error


def bytes_from(bus: SerialLineBus, seconds: float) -> bytes:
    """Return all that a device sends in so many seconds, after its request where the bus has one. Blocks.

    Raises DeviceError.
    """
    received = b""
    with open_port(bus) as port:
        try:
            if bus.poll_request is not None:
                port.write(bus.poll_request.encode(bus.encoding))
            for _ in range(round(seconds / _READ_S)):
                received += port.read(max(1, port.in_waiting))
        except (OSError, ValueError) as error:
            raise DeviceError(f"{bus.name} ({bus.path}): {error}") from error
    return received


class LineLink:
    """An open port and the thread that reads it into a bounded row of lines, the oldest going first."""

    def __init__(self, port: serial.SerialBase, end: bytes, clock: Clock, *, drop_first: bool) -> None:
        self.lost: str | None = None
        self._port = port
        self._end = end
        self._clock = clock
        self._drop_first = drop_first
        self._loop = asyncio.get_running_loop()
        self._lines: deque[Line] = deque(maxlen=_MAX_LINES)
        self._changed = asyncio.Event()
        self._last_byte_s = self._loop.time()
        self._buffer = b""
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._read_all, name="serial line", daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._closing.set()
        self._thread.join()
        with contextlib.suppress(OSError):
            self._port.close()

    def send(self, data: bytes) -> None:
        self._port.write(data)

    def discard(self) -> None:
        self._lines.clear()
        self._buffer = b""

    async def silence(self, quiet_s: float) -> None:
        while (wait_s := self._last_byte_s + quiet_s - self._loop.time()) > 0:
            await asyncio.sleep(wait_s)

    async def next_line(self) -> Line | None:
        """Return the next line, or None when the link is lost."""
        while not self._lines:
            if self.lost is not None:
                return None
            self._changed.clear()
            await self._changed.wait()
        return self._lines.popleft()

    def _read_all(self) -> None:
        """Run in the thread: hand over whatever comes, with the clock at its arrival."""
        try:
            while not self._closing.is_set():
                data = self._port.read(max(1, self._port.in_waiting))
                if data:
                    self._hand_over(self._feed, data, self._clock.mono_s())
        except (OSError, TypeError) as error:  # pyserial: TypeError from a port closed under it
            self._hand_over(self._lose, str(error))

    def _hand_over(self, call: Callable[..., None], *values: object) -> None:
        with contextlib.suppress(RuntimeError):  # the loop is already closed
            self._loop.call_soon_threadsafe(call, *values)

    def _feed(self, data: bytes, received_s: float) -> None:
        self._last_byte_s = self._loop.time()
        *lines, self._buffer = (self._buffer + data).split(self._end)
        for line in lines:
            if self._drop_first:
                self._drop_first = False
                continue
            self._lines.append(Line(line[:_MAX_LINE_BYTES], received_s))
        if len(self._buffer) > _MAX_LINE_BYTES:
            self._buffer = b""
            self._drop_first = True  # What follows is the rest of a line without an end.
        self._changed.set()

    def _lose(self, reason: str) -> None:
        self.lost = reason
        self._changed.set()
