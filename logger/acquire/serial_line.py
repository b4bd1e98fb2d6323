"""Lines of text from a serial port or a pyserial URL, streamed or asked for, read by a regular expression.

A thread reads, since pyserial's URLs have no common way to wait without one. A line that cannot be decoded,
does not match or holds no number is one lost sample. A device that is asked cannot number its lines: after an
unanswered question the line must be silent for a whole time-out before the next, and an answer later than
that can be taken for the next one, which is the limit of such a device.
"""

import asyncio
import contextlib
import re
import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import serial

from logger.acquire.decode import field_name, readings_of_fields
from logger.acquire.driver import Answer
from logger.acquire.grouping import FieldRequest, Request
from logger.acquire.line_frame import text_in
from logger.acquire.serial_port import character_format, has_wire
from logger.domain.bus import Parity, SerialLineBus
from logger.domain.clock import Clock
from logger.domain.sample import RawReading
from logger.errors import DeviceError, InputError

_READ_S = 0.05
_MAX_LINE_BYTES = 4096
_MAX_LINES = 256


@dataclass(frozen=True, slots=True)
class _Line:
    data: bytes
    received_s: float


class SerialLineDriver:
    """One device that sends text."""

    def __init__(self, bus: SerialLineBus, requests: Sequence[Request], clock: Clock) -> None:
        """Raises InputError where the pattern or the encoding cannot be used or a group is missing."""
        self._bus = bus
        self._clock = clock
        self._where = f"{bus.name} ({bus.path})"
        self._pattern = _compiled(bus, requests)
        self._end = bus.line_end.encode(bus.encoding)
        bits = 1 + bus.data_bits + (bus.parity is not Parity.NONE) + bus.stop_bits
        self._character_s = bits / bus.baudrate * clock.time_scale if has_wire(bus.path) else 0.0
        self._link: _LineLink | None = None
        self._must_be_quiet = False

    async def ensure_ready(self) -> None:
        if self._link is not None and self._link.lost is None:
            return
        await self.ensure_closed()
        try:
            port = await asyncio.to_thread(
                serial.serial_for_url,
                self._bus.path,
                baudrate=self._bus.baudrate,
                **character_format(self._bus.path, self._bus.parity, self._bus.data_bits),
                stopbits=self._bus.stop_bits,
                timeout=_READ_S,
                exclusive=True,
            )
        except (OSError, ValueError) as error:
            raise DeviceError(f"{self._where}: cannot open: {error}") from error
        # The first line of a stream has most likely begun before the port was opened.
        is_stream = self._bus.poll_request is None
        self._link = _LineLink(port, self._end, self._clock, drop_first=is_stream)
        self._must_be_quiet = False

    async def ensure_closed(self) -> None:
        if self._link is not None:
            link, self._link = self._link, None
            await asyncio.to_thread(link.close)

    async def read(self, request: Request) -> Answer:
        """Return the next line's fields; raises DeviceError for a line that cannot be read, or for none."""
        link = self._link
        if link is None or not isinstance(request, FieldRequest):
            raise DeviceError(f"{self._where}: not open")
        if self._bus.poll_request is None:
            line = await self._next_line(link)
            sent_s = line.received_s - len(line.data) * self._character_s
        else:
            sent_s, line = await self._asked_line(link, self._bus.poll_request.encode(self._bus.encoding))
        readings = self._readings(request, line.data)
        return Answer(readings=readings, sent_s=sent_s, received_s=line.received_s)

    async def _asked_line(self, link: "_LineLink", question: bytes) -> tuple[float, _Line]:
        if self._must_be_quiet:
            await link.silence(self._bus.timeout_s)
        self._must_be_quiet = True
        link.discard()
        sent_s = self._clock.mono_s()
        try:
            await asyncio.to_thread(link.send, question)
        except OSError as error:
            raise DeviceError(f"{self._where}: cannot send: {error}") from error
        line = await self._next_line(link)
        self._must_be_quiet = False
        return sent_s, line

    async def _next_line(self, link: "_LineLink") -> _Line:
        try:
            async with asyncio.timeout(self._bus.timeout_s):
                line = await link.next_line()
        except TimeoutError:
            raise DeviceError(f"{self._where}: no line within {self._bus.timeout_s:g} s") from None
        if line is None:
            raise DeviceError(f"{self._where}: link lost: {link.lost}")
        return line

    def _readings(self, request: FieldRequest, data: bytes) -> tuple[RawReading, ...]:
        try:
            text = text_in(self._bus, data)
            match = self._pattern.fullmatch(text)
            if match is None:
                raise DeviceError(f"{self._where}: the line {text[:60]!r} does not match the pattern")
            return readings_of_fields(request.bindings, match.groupdict())
        except ValueError as error:  # UnicodeDecodeError is one
            raise DeviceError(f"{self._where}: unreadable line {bytes(data[:60])!r}: {error}") from error


def _compiled(bus: SerialLineBus, requests: Sequence[Request]) -> re.Pattern[str]:
    try:
        pattern = re.compile(bus.pattern)
        "".encode(bus.encoding)
    except (re.error, LookupError) as error:
        raise InputError(f"pattern or encoding cannot be used: {error}", key=f"bus {bus.name}") from error
    for request in requests:
        for binding in request.bindings:
            if field_name(binding) not in pattern.groupindex:
                known = ", ".join(pattern.groupindex) or "none"
                message = f"the pattern has no group {field_name(binding)!r} (it has: {known})"
                raise InputError(message, key=f"bus {bus.name}")
    return pattern


class _LineLink:
    """An open port and the thread that reads it into a bounded row of lines, the oldest going first."""

    def __init__(self, port: serial.SerialBase, end: bytes, clock: Clock, *, drop_first: bool) -> None:
        self.lost: str | None = None
        self._port = port
        self._end = end
        self._clock = clock
        self._drop_first = drop_first
        self._loop = asyncio.get_running_loop()
        self._lines: deque[_Line] = deque(maxlen=_MAX_LINES)
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

    async def next_line(self) -> _Line | None:
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
            self._lines.append(_Line(line[:_MAX_LINE_BYTES], received_s))
        if len(self._buffer) > _MAX_LINE_BYTES:
            self._buffer = b""
            self._drop_first = True  # What follows is the rest of a line without an end.
        self._changed.set()

    def _lose(self, reason: str) -> None:
        self.lost = reason
        self._changed.set()
