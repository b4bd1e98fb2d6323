"""From an installation to raw samples: each request at its own absolute times, one at a time per bus."""

import asyncio
import contextlib
import math
from collections.abc import Callable
from dataclasses import dataclass

from logger.acquire.cadence import Cadence
from logger.acquire.driver import Answer, Driver, SourceEndedError
from logger.acquire.grouping import Request, requests_of
from logger.acquire.health import ChannelHealth, HealthEvent
from logger.acquire.registry import driver_of
from logger.domain.bus import Bus, Installation
from logger.domain.clock import Clock
from logger.domain.sample import RawSample
from logger.errors import DeviceError

_FIRST_BACKOFF_S = 0.1
_MAX_BACKOFF_S = 1.0


@dataclass(slots=True)
class PollCounts:
    """What became of the polls of one request: every slot is exactly one of them."""

    good: int = 0
    failed: int = 0
    missed: int = 0
    """Slots that passed while the poll before was still under way or backing off."""
    repeated: int = 0
    """Answers whose time, in whole milliseconds, was not after the one before: dropped."""


class Poller:
    """Reads a whole installation until it is cancelled or every source has ended.

    `on_sample` and `on_health` are called from the event loop, must return at once and never wait: a consumer
    that may block takes what it gets into a bounded queue of its own. An exception they raise ends `run`.
    """

    def __init__(
        self,
        installation: Installation,
        clock: Clock,
        on_sample: Callable[[RawSample], None],
        on_health: Callable[[HealthEvent], None],
        make_driver: Callable[[Bus, tuple[Request, ...], Clock], Driver] = driver_of,
    ) -> None:
        """Plan all requests. Raises InputError where a channel or a file does not fit its bus."""
        self._clock = clock
        self.requests: list[RequestPoller] = []
        self._lines: list[_Line] = []
        for bus in installation.buses:
            requests = requests_of(bus, installation.bindings)
            if not requests:
                continue
            line = _Line(make_driver(bus, requests, clock))
            self._lines.append(line)
            for request in requests:
                self.requests.append(RequestPoller(bus.name, line, request, clock, on_sample, on_health))

    async def run(self) -> None:
        """Poll; returns when every source has ended. To stop, cancel it: the links are closed then."""
        try:
            async with asyncio.TaskGroup() as tasks:
                for request in self.requests:
                    tasks.create_task(request.run())
        finally:
            for line in self._lines:
                await line.driver.ensure_closed()


class _Line:
    """One bus: its driver, and the lock that lets only one question onto it."""

    def __init__(self, driver: Driver) -> None:
        self.driver = driver
        self._lock = asyncio.Lock()

    async def ask(self, request: Request) -> Answer:
        async with self._lock:
            await self.driver.ensure_ready()
            return await self.driver.read(request)


class RequestPoller:
    """One request with its time table, its counts and the health of its channels."""

    def __init__(
        self,
        bus: str,
        line: _Line,
        request: Request,
        clock: Clock,
        on_sample: Callable[[RawSample], None],
        on_health: Callable[[HealthEvent], None],
    ) -> None:
        self.request = request
        self.counts = PollCounts()
        self._line = line
        self._clock = clock
        self._on_sample = on_sample
        self._on_health = on_health
        self._health = {b.channel.quantity: ChannelHealth(b.channel.quantity, bus) for b in request.bindings}
        self._last_t_ms: int | None = None
        self._failures = 0

    async def run(self) -> None:
        """Poll until the source has ended."""
        cadence: Cadence | None = None
        if self.request.rate_hz is not None:
            cadence = Cadence(self._clock.mono_s(), self.request.rate_hz)
        with contextlib.suppress(SourceEndedError):
            while True:
                await self._poll()
                if cadence is not None:
                    await self._next_slot(cadence)

    async def _next_slot(self, cadence: Cadence) -> None:
        missed = cadence.advance(self._clock.mono_s())
        self.counts.missed += missed
        for health in self._health.values():
            health.missed(missed)
        await self._clock.sleep(max(0.0, cadence.due_s - self._clock.mono_s()))

    async def _poll(self) -> None:
        try:
            answer = await self._line.ask(self.request)
        except SourceEndedError as error:
            # A recording's samples carry its own times, and so does its end.
            t_ms = self._now_ms() if self._last_t_ms is None else self._last_t_ms
            for health in self._health.values():
                self._on_health(health.ended(t_ms, str(error)))
            raise
        except DeviceError as error:
            self.counts.failed += 1
            for health in self._health.values():
                self._tell(health.failed(self._now_ms(), str(error)))
            await self._back_off()
        else:
            self._failures = 0
            self._emit(answer)

    async def _back_off(self) -> None:
        """Wait in real seconds, longer each time: a dead device must not keep its bus from the others.

        The first failure in a row costs no wait, so that a single lost answer costs a single sample.
        """
        if self._failures > 0:
            await asyncio.sleep(min(_MAX_BACKOFF_S, _FIRST_BACKOFF_S * 2 ** min(self._failures - 1, 8)))
        self._failures += 1

    def _emit(self, answer: Answer) -> None:
        t_ms = round((answer.sent_s + answer.received_s) / 2 * 1000)
        if self._last_t_ms is not None and t_ms <= self._last_t_ms:
            self.counts.repeated += 1
            return
        self._last_t_ms = t_ms
        self.counts.good += 1
        half_width_ms = math.ceil((answer.received_s - answer.sent_s) / 2 * 1000)
        if answer.readings:
            self._on_sample(RawSample(t_ms=t_ms, half_width_ms=half_width_ms, readings=answer.readings))
        for reading in answer.readings:
            self._tell(self._health[reading.quantity].read(t_ms))

    def _tell(self, event: HealthEvent | None) -> None:
        if event is not None:
            self._on_health(event)

    def _now_ms(self) -> int:
        return round(self._clock.mono_s() * 1000)
