"""The poller on a thread with an event loop of its own: what its consumer computes keeps no poll waiting."""

import asyncio
from collections.abc import Callable
from typing import TypeVar

from logger.acquire.driver import Driver
from logger.acquire.grouping import Request
from logger.acquire.health import HealthEvent
from logger.acquire.poller import Poller
from logger.acquire.registry import driver_of
from logger.domain.bus import Bus, Installation
from logger.domain.clock import Clock
from logger.domain.sample import RawSample

T = TypeVar("T")
_BEAT_S = 0.25
"""Well below half a watchdog's time-out of a second."""


class PollThread:
    """A `Poller` whose samples and health events are handed over, in their order, to the loop that runs this.

    An exception that a consumer raises ends `run`, as one of the poller's does.
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
        self._poller = Poller(
            installation, clock, self._handing_to(on_sample), self._handing_to(on_health), make_driver
        )
        self._here: asyncio.AbstractEventLoop
        self._refused: asyncio.Future[None]
        self._beats = 0
        self._seen_beats = -1
        self._is_over = False

    def is_turning(self) -> bool:
        """Tell whether the poller's loop has turned since the call before; one that has ended is well."""
        before, self._seen_beats = self._seen_beats, self._beats
        return self._is_over or self._beats != before

    async def run(self) -> None:
        """Poll; returns when every source has ended. To stop, cancel it: the links are closed then."""
        self._here = asyncio.get_running_loop()
        self._refused = self._here.create_future()
        there = asyncio.new_event_loop()
        # Made before its loop runs, so that a stop that comes at once finds it.
        task = there.create_task(self._polled())
        thread = asyncio.ensure_future(asyncio.to_thread(_complete, there, task))
        try:
            await asyncio.wait((thread, self._refused), return_when=asyncio.FIRST_COMPLETED)
        finally:
            there.call_soon_threadsafe(task.cancel)
            await asyncio.wait((thread,))
            there.close()
        if self._refused.done():
            self._refused.result()
        thread.result()

    async def _polled(self) -> None:
        beating = asyncio.create_task(self._beat())
        try:
            await self._poller.run()
        finally:
            self._is_over = True
            beating.cancel()

    async def _beat(self) -> None:
        while True:
            self._beats += 1
            await asyncio.sleep(_BEAT_S)

    def _handing_to(self, take: Callable[[T], None]) -> Callable[[T], None]:
        def take_here(item: T) -> None:
            if self._refused.done():
                return
            try:
                take(item)
            except Exception as error:
                self._refused.set_exception(error)

        def hand_over(item: T) -> None:
            self._here.call_soon_threadsafe(take_here, item)

        return hand_over


def _complete(loop: asyncio.AbstractEventLoop, task: asyncio.Task[None]) -> None:
    try:
        loop.run_until_complete(task)
    except asyncio.CancelledError:
        return
    finally:
        loop.run_until_complete(loop.shutdown_default_executor())
