"""A rig watched for some seconds through its own drivers: counts, latencies, what went wrong, raw samples."""

import asyncio
import contextlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from logger.acquire.driver import Answer, Driver, SourceEndedError
from logger.acquire.grouping import Request
from logger.acquire.poller import PollCounts, Poller
from logger.acquire.registry import driver_of
from logger.domain.bus import Bus, Installation
from logger.domain.clock import Clock
from logger.domain.sample import RawSample
from logger.errors import DeviceError


@dataclass(slots=True)
class BusWatch:
    """One bus: how long each answer took, and each error with how often it came."""

    bus: str
    latencies_s: list[float] = field(default_factory=list)
    errors: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True)
class RigWatch:
    """What the poller did; `counts` in the order of its requests."""

    buses: tuple[BusWatch, ...]
    requests: tuple[Request, ...]
    counts: tuple[PollCounts, ...]
    samples: tuple[RawSample, ...]


async def watched(
    installation: Installation,
    clock: Clock,
    seconds: float,
    is_enough: Callable[[RawSample], bool] = lambda _sample: False,
) -> RigWatch:
    """Poll for so many clock seconds, until every recording has ended or a sample was enough."""
    watches: list[BusWatch] = []
    samples: list[RawSample] = []
    enough = asyncio.Event()

    def take(sample: RawSample) -> None:
        samples.append(sample)
        if is_enough(sample):
            enough.set()

    def make_driver(bus: Bus, requests: tuple[Request, ...], at: Clock) -> Driver:
        watches.append(BusWatch(bus.name))
        return _Watched(driver_of(bus, requests, at), watches[-1], at)

    poller = Poller(installation, clock, take, lambda _event: None, make_driver)
    polling = asyncio.create_task(poller.run())
    waiting = [asyncio.create_task(clock.sleep(seconds)), asyncio.create_task(enough.wait())]
    try:
        await asyncio.wait((polling, *waiting), return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in (*waiting, polling):
            task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await polling
    return RigWatch(
        buses=tuple(watches),
        requests=tuple(one.request for one in poller.requests),
        counts=tuple(one.counts for one in poller.requests),
        samples=tuple(samples),
    )


class _Watched:
    """A driver with somebody who takes notes."""

    def __init__(self, driver: Driver, watch: BusWatch, clock: Clock) -> None:
        self._driver = driver
        self._watch = watch
        self._scale = clock.time_scale

    async def ensure_ready(self) -> None:
        try:
            await self._driver.ensure_ready()
        except DeviceError as error:
            self._watch.errors[str(error)] += 1
            raise

    async def read(self, request: Request) -> Answer:
        try:
            answer = await self._driver.read(request)
        except SourceEndedError:
            raise
        except DeviceError as error:
            self._watch.errors[str(error)] += 1
            raise
        self._watch.latencies_s.append((answer.received_s - answer.sent_s) / self._scale)
        return answer

    async def ensure_closed(self) -> None:
        await self._driver.ensure_closed()
