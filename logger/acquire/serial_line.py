"""Lines of text from a serial port or a pyserial URL, streamed or asked for, read by a regular expression.

A thread reads, since pyserial's URLs have no common way to wait without one. A line that cannot be decoded,
does not match or holds no number is one lost sample. A device that is asked cannot number its lines: after an
unanswered question the line must be silent for a whole time-out before the next, and an answer later than
that can be taken for the next one, which is the limit of such a device.
"""

import asyncio
import re
from collections.abc import Sequence

from logger.acquire.decode import field_name, readings_of_fields
from logger.acquire.driver import Answer
from logger.acquire.grouping import FieldRequest, Request
from logger.acquire.line_frame import text_in
from logger.acquire.line_link import Line, LineLink, open_port
from logger.acquire.serial_port import has_wire, is_network
from logger.domain.bus import Parity, SerialLineBus
from logger.domain.clock import Clock
from logger.domain.sample import RawReading
from logger.errors import DeviceError, InputError

_UNANSWERED_LIMIT = 2
"""A connection over the network may be half open: nothing comes, and nothing says that nothing will."""


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
        self._link: LineLink | None = None
        self._must_be_quiet = False
        self._unanswered = 0

    async def ensure_ready(self) -> None:
        if self._link is not None and self._link.lost is None:
            return
        await self.ensure_closed()
        port = await asyncio.to_thread(open_port, self._bus)
        # The first line of a stream has most likely begun before the port was opened.
        is_stream = self._bus.poll_request is None
        self._link = LineLink(port, self._end, self._clock, drop_first=is_stream)
        self._must_be_quiet = False
        self._unanswered = 0

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

    async def _asked_line(self, link: LineLink, question: bytes) -> tuple[float, Line]:
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

    async def _next_line(self, link: LineLink) -> Line:
        try:
            async with asyncio.timeout(self._bus.timeout_s):
                line = await link.next_line()
        except TimeoutError:
            self._unanswered += 1
            if is_network(self._bus.path) and self._unanswered >= _UNANSWERED_LIMIT:
                await self.ensure_closed()
            raise DeviceError(f"{self._where}: no line within {self._bus.timeout_s:g} s") from None
        self._unanswered = 0
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
