"""The poller on a thread: order kept, errors passed on, links closed, a busy consumer not waited for."""

import asyncio
import threading

import pytest

from logger.acquire.driver import Answer, SourceEndedError
from logger.acquire.poll_thread import PollThread
from logger.domain.bus import ModbusTcpBus
from logger.domain.channel import Quantity
from logger.domain.sample import RawReading
from tests.unit.acquire.rig_builders import RealClock, installation, register

BUS = ModbusTcpBus(name="field", host="127.0.0.1", max_gap=0)
RIG = installation(BUS, register(Quantity.PRESSURE, 0, rate_hz=50.0))
ENOUGH = 5


class CountingDriver:
    """Answers at once with the number of the question, until `last`."""

    def __init__(self, clock: RealClock, last: int | None = None) -> None:
        self.clock = clock
        self.last = last
        self.asked = 0
        self.has_asked_enough = threading.Event()
        self.is_closed = False
        self.thread = threading.current_thread()

    async def ensure_ready(self) -> None:
        return

    async def ensure_closed(self) -> None:
        self.is_closed = True

    async def read(self, request) -> Answer:
        self.thread = threading.current_thread()
        if self.asked == self.last:
            raise SourceEndedError("the end")
        self.asked += 1
        if self.asked > ENOUGH:
            self.has_asked_enough.set()
        await self.clock.sleep(0.002)
        now_s = self.clock.mono_s()
        reading = RawReading(quantity=Quantity.PRESSURE, raw=self.asked)
        return Answer(readings=(reading,), sent_s=now_s, received_s=now_s)


async def polled(driver: CountingDriver, on_sample, on_health=lambda event: None) -> None:
    await PollThread(RIG, driver.clock, on_sample, on_health, lambda *_: driver).run()


async def test_every_sample_arrives_in_order_on_the_loop_of_the_consumer():
    driver = CountingDriver(RealClock(), last=12)
    taken: list[int] = []
    threads: set[threading.Thread] = set()
    states: list[str] = []

    def take(sample) -> None:
        taken.append(sample.readings[0].raw)
        threads.add(threading.current_thread())

    await polled(driver, take, lambda event: states.append(event.state))
    assert taken == list(range(1, 13))
    assert threads == {threading.current_thread()}
    assert driver.thread is not threading.current_thread()
    assert states == ["present", "ended"]
    assert driver.is_closed


async def test_polling_goes_on_while_the_consumer_is_busy():
    driver = CountingDriver(RealClock())
    went_on: list[bool] = []

    def compute(sample) -> None:
        if not went_on:
            went_on.append(driver.has_asked_enough.wait(timeout=30))

    polling = asyncio.create_task(polled(driver, compute))
    while not went_on:
        await asyncio.sleep(0.01)
    polling.cancel()
    with pytest.raises(asyncio.CancelledError):
        await polling
    assert went_on == [True]
    assert driver.is_closed


async def test_an_error_of_the_consumer_ends_the_polling():
    driver = CountingDriver(RealClock())

    def refuse(sample) -> None:
        raise RuntimeError("store is gone")

    with pytest.raises(RuntimeError, match="store is gone"):
        await polled(driver, refuse)
    assert driver.is_closed


async def test_an_error_of_the_driver_ends_the_polling():
    driver = CountingDriver(RealClock())

    async def fall_over(request) -> Answer:
        raise ZeroDivisionError

    driver.read = fall_over
    with pytest.raises(ExceptionGroup) as caught:
        await polled(driver, lambda sample: None)
    assert caught.group_contains(ZeroDivisionError)
    assert driver.is_closed


async def test_a_stop_that_comes_at_once_is_heard():
    driver = CountingDriver(RealClock())
    polling = asyncio.create_task(polled(driver, lambda sample: None))
    await asyncio.sleep(0)
    polling.cancel()
    with pytest.raises(asyncio.CancelledError):
        await polling


class StuckDriver(CountingDriver):
    """Blocks its thread within a question until it is let go."""

    def __init__(self, clock: RealClock) -> None:
        super().__init__(clock)
        self.is_stuck = threading.Event()
        self.let_go = threading.Event()

    async def read(self, request) -> Answer:
        if not self.let_go.is_set():
            self.is_stuck.set()
            self.let_go.wait()
        return await super().read(request)


async def test_a_thread_that_hangs_is_noticed_and_one_that_turns_or_has_ended_is_well():
    driver = StuckDriver(RealClock())
    poller = PollThread(RIG, driver.clock, lambda _sample: None, lambda _event: None, lambda *_: driver)
    running = asyncio.create_task(poller.run())
    await asyncio.to_thread(driver.is_stuck.wait)
    poller.is_turning()
    assert not poller.is_turning(), "its loop stands still"
    driver.let_go.set()
    async with asyncio.timeout(30):
        while not poller.is_turning():
            await asyncio.sleep(0.01)
    running.cancel()
    with pytest.raises(asyncio.CancelledError):
        await running
    poller.is_turning()
    assert poller.is_turning(), "nothing is to be polled any more"
