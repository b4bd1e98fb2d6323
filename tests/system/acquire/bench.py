"""A driver, and a poller, against a device that misbehaves."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable

import pytest

from logger.acquire.driver import Driver
from logger.acquire.grouping import Request, requests_of
from logger.acquire.health import HealthEvent
from logger.acquire.poller import Poller
from logger.acquire.registry import driver_of
from logger.domain.bus import Binding, Bus
from logger.domain.sample import RawSample
from logger.errors import DeviceError
from tests.unit.acquire.rig_builders import RealClock, installation

PATIENCE_S = 30
"""Long enough for any slow machine; a test that needs it has failed."""


class DriverBench:
    """One driver and its requests, asked one at a time."""

    def __init__(self, bus: Bus, *bindings: Binding) -> None:
        self.requests = requests_of(bus, bindings)
        self.driver: Driver = driver_of(bus, self.requests, RealClock())

    async def ask(self, request: Request | None = None) -> list[int]:
        await self.driver.ensure_ready()
        answer = await self.driver.read(request or self.requests[0])
        assert answer.sent_s <= answer.received_s
        return [reading.raw for reading in answer.readings]

    async def ask_until_answered(self, request: Request | None = None) -> list[int]:
        """Ask again after each DeviceError; anything else that is raised fails the test."""
        async with asyncio.timeout(PATIENCE_S):
            while True:
                with contextlib.suppress(DeviceError):
                    return await self.ask(request)
                await asyncio.sleep(0.01)


@contextlib.asynccontextmanager
async def driven(bus: Bus, *bindings: Binding) -> AsyncIterator[DriverBench]:
    bench = DriverBench(bus, *bindings)
    try:
        yield bench
    finally:
        await bench.driver.ensure_closed()


class PollerBench:
    """A running poller with all it handed out."""

    def __init__(self, bus: Bus, *bindings: Binding) -> None:
        self.samples: list[RawSample] = []
        self.events: list[HealthEvent] = []
        wiring = installation(bus, *bindings)
        self.poller = Poller(wiring, RealClock(), self.samples.append, self.events.append)

    @property
    def edges(self) -> list[HealthEvent]:
        """Without those that tell of another reason for the same loss: whether there is one is chance."""
        return [event for event in self.events if not event.is_new_reason]

    async def until(self, claim: Callable[[], bool]) -> None:
        async with asyncio.timeout(PATIENCE_S):
            while not claim():
                await asyncio.sleep(0.005)


@contextlib.asynccontextmanager
async def polled(bus: Bus, *bindings: Binding) -> AsyncIterator[PollerBench]:
    bench = PollerBench(bus, *bindings)
    task = asyncio.create_task(bench.poller.run())
    try:
        yield bench
    finally:
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
