"""A driver of one's own, from the protocol in its manual, as an example of how little one takes.

The (invented) gauge answers the byte R with A5h, two signed 16-bit numbers, low byte first, and the sum of
all bytes modulo 256. Fields are named "0" and "1".
"""

import asyncio
from collections.abc import Sequence

from logger.acquire.driver import Answer
from logger.acquire.grouping import Request
from logger.domain.bus import LineField, OwnDriverBus
from logger.domain.clock import Clock
from logger.domain.sample import RawReading
from logger.errors import DeviceError

HEAD, FRAME_BYTES = 0xA5, 6


class Driver:
    """One gauge behind HOST:PORT."""

    def __init__(self, bus: OwnDriverBus, _requests: Sequence[Request], clock: Clock) -> None:
        self._bus = bus
        self._clock = clock
        self._link: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ensure_ready(self) -> None:
        if self._link is None:
            host, _, port = self._bus.path.rpartition(":")
            try:
                self._link = await asyncio.open_connection(host, int(port))
            except OSError as error:
                raise DeviceError(f"{self._bus.path}: {error}") from error

    async def ensure_closed(self) -> None:
        if self._link is not None:
            self._link[1].close()
            self._link = None

    async def read(self, request: Request) -> Answer:
        if self._link is None:
            raise DeviceError(f"{self._bus.path}: not open")
        link, self._link = self._link, None  # Given back only with a sound answer: no late one is ever read.
        sent_s = self._clock.mono_s()
        try:
            link[1].write(b"R")
            async with asyncio.timeout(self._bus.timeout_s):
                frame = await link[0].readexactly(FRAME_BYTES)
        except (OSError, TimeoutError, asyncio.IncompleteReadError) as error:
            link[1].close()
            raise DeviceError(f"{self._bus.path}: no answer") from error
        if frame[0] != HEAD or sum(frame[:-1]) % 256 != frame[-1]:
            link[1].close()
            raise DeviceError(f"{self._bus.path}: the answer is damaged")
        self._link = link
        points = [(b.channel.quantity, b.point) for b in request.bindings if isinstance(b.point, LineField)]
        places = [(quantity, 1 + 2 * int(point.group)) for quantity, point in points]
        numbers = [(q, int.from_bytes(frame[at : at + 2], "little", signed=True)) for q, at in places]
        readings = tuple(RawReading(quantity=quantity, raw=raw) for quantity, raw in numbers)
        return Answer(readings=readings, sent_s=sent_s, received_s=self._clock.mono_s())
