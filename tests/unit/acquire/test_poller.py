"""The poller with a clock that stands still unless told, and a device that is a list of answers."""

import asyncio
from collections.abc import Callable

import pytest

from logger.acquire.driver import Answer, SourceEndedError
from logger.acquire.health import ChannelState
from logger.acquire.poller import Poller
from logger.domain.bus import ModbusTcpBus
from logger.domain.channel import Quantity
from logger.domain.sample import RawReading
from logger.errors import DeviceError
from tests.unit.acquire.rig_builders import ManualClock, installation, register

BUS = ModbusTcpBus(name="field", host="127.0.0.1", max_gap=0)
P, T = Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE


class ScriptedDriver:
    """Answers each poll after `latency_s(poll number)`, or with what `mishap(poll number)` raises."""

    def __init__(self, clock: ManualClock) -> None:
        self.clock = clock
        self.asked_s: list[float] = []
        self.latency_s: Callable[[int], float] = lambda number: 0.02
        self.mishap: Callable[[int], Exception | None] = lambda number: None
        self.busy = 0
        self.is_closed = False

    async def ensure_ready(self) -> None:
        return

    async def ensure_closed(self) -> None:
        self.is_closed = True

    async def read(self, request) -> Answer:
        number = len(self.asked_s)
        self.busy += 1
        assert self.busy == 1, "one question at a time"
        try:
            sent_s = self.clock.mono_s()
            self.asked_s.append(sent_s)
            await self.clock.sleep(self.latency_s(number))
            if (error := self.mishap(number)) is not None:
                raise error
            readings = tuple(RawReading(quantity=b.channel.quantity, raw=number) for b in request.bindings)
            return Answer(readings=readings, sent_s=sent_s, received_s=self.clock.mono_s())
        finally:
            self.busy -= 1


class Bench:
    def __init__(self, *bindings) -> None:
        self.clock = ManualClock(1000.0)
        self.driver = ScriptedDriver(self.clock)
        self.samples: list = []
        self.events: list = []
        self.poller = Poller(
            installation(BUS, *bindings),
            self.clock,
            self.samples.append,
            self.events.append,
            lambda bus, requests, clock: self.driver,
        )
        self.task = asyncio.ensure_future(self.poller.run())

    async def stop(self) -> None:
        self.task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await self.task


async def test_stamps_are_the_middle_of_question_and_answer():
    bench = Bench(register(P, 0, rate_hz=10.0))
    await bench.clock.advance(0.25)
    await bench.stop()
    assert [(s.t_ms, s.half_width_ms) for s in bench.samples] == [
        (1_000_010, 10),
        (1_000_110, 10),
        (1_000_210, 10),
    ]
    assert bench.driver.is_closed


async def test_a_slow_answer_costs_its_slots_and_no_burst_follows():
    bench = Bench(register(P, 0, rate_hz=10.0))
    bench.driver.latency_s = lambda number: 0.35 if number == 2 else 0.02
    await bench.clock.advance(1.05)
    await bench.stop()
    assert bench.driver.asked_s == pytest.approx(
        [1000.0, 1000.1, 1000.2, 1000.6, 1000.7, 1000.8, 1000.9, 1001.0]
    )
    counts = bench.poller.requests[0].counts
    assert (counts.good, counts.missed, counts.failed) == (8, 3, 0)


async def test_each_rate_has_its_own_time_table_and_the_bus_one_question():
    bench = Bench(register(P, 0, rate_hz=20.0), register(T, 50, rate_hz=2.0))
    await bench.clock.advance(2.99)
    await bench.stop()
    by_quantity = {q: [s.t_ms for s in bench.samples if s.readings[0].quantity is q] for q in (P, T)}
    assert len(by_quantity[P]) == 60
    assert len(by_quantity[T]) == 6
    for times in by_quantity.values():
        assert times == sorted(set(times))


async def test_a_failed_poll_is_a_gap_and_its_edges_are_told_once():
    bench = Bench(register(P, 0, rate_hz=10.0))
    bench.driver.mishap = lambda number: DeviceError("no answer") if number == 3 else None
    await bench.clock.advance(0.65)
    await bench.stop()
    assert [s.readings[0].raw for s in bench.samples] == [0, 1, 2, 4, 5, 6]
    counts = bench.poller.requests[0].counts
    assert (counts.good, counts.failed) == (6, 1)
    assert [(e.state, e.missed_polls) for e in bench.events] == [
        (ChannelState.PRESENT, 0),
        (ChannelState.LOST, 1),
        (ChannelState.PRESENT, 1),
    ]


async def test_a_dead_device_is_asked_less_and_less_often(monkeypatch):
    waits: list[float] = []

    async def note(seconds: float, result: None = None) -> None:
        if seconds > 0:
            waits.append(seconds)
        await real_sleep(0)

    real_sleep = asyncio.sleep
    monkeypatch.setattr(asyncio, "sleep", note)
    bench = Bench(register(P, 0, rate_hz=10.0))
    bench.driver.mishap = lambda number: DeviceError("cannot connect")
    await bench.clock.advance(0.95)
    await bench.stop()
    assert waits[:5] == pytest.approx([0.1, 0.2, 0.4, 0.8, 1.0])
    assert max(waits) <= 1.0
    assert [e.state for e in bench.events] == [ChannelState.LOST]


async def test_an_answer_within_the_same_millisecond_is_dropped_and_counted():
    bench = Bench(register(P, 0, rate_hz=10.0))
    original = bench.driver.read

    async def stuck(request):
        answer = await original(request)
        return Answer(readings=answer.readings, sent_s=5.0, received_s=5.0)

    bench.driver.read = stuck
    await bench.clock.advance(0.35)
    await bench.stop()
    assert [s.t_ms for s in bench.samples] == [5000]
    assert bench.poller.requests[0].counts.repeated == 3


async def test_the_run_ends_with_its_sources():
    bench = Bench(register(P, 0, rate_hz=10.0))
    bench.driver.mishap = lambda number: SourceEndedError("the recording has ended") if number == 2 else None
    await bench.clock.advance(1.0)
    await bench.task
    assert len(bench.samples) == 2
    assert [e.state for e in bench.events] == [ChannelState.PRESENT, ChannelState.ENDED]


async def test_an_error_of_the_consumer_is_not_swallowed():
    clock = ManualClock()

    def refuse(sample) -> None:
        raise RuntimeError("store is gone")

    driver = ScriptedDriver(clock)
    poller = Poller(installation(BUS, register(P, 0)), clock, refuse, lambda event: None, lambda *_: driver)
    task = asyncio.ensure_future(poller.run())
    await clock.advance(0.1)
    with pytest.raises(ExceptionGroup) as caught:
        await task
    assert caught.group_contains(RuntimeError, match="store is gone")
    assert driver.is_closed
