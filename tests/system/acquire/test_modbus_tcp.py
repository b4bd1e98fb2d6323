"""The TCP driver against a device that misbehaves."""

import asyncio
import logging
import socket
from dataclasses import replace

import pytest

from logger.acquire.health import ChannelState
from logger.domain.bus import ModbusTcpBus, Table, UnitTiming
from logger.domain.channel import DataType, Quantity
from logger.errors import DeviceError
from simulators.misbehave import SILENT, Behaviour, Misbehaving
from tests.system.acquire.bench import PATIENCE_S, driven, polled
from tests.unit.acquire.rig_builders import bit, register

pytestmark = pytest.mark.system

P, T, X, IN = Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE, Quantity.CARRIAGE, Quantity.PLATE_IN
REGISTERS = [7, 500, 501, 502, 503, 1]
ONE = (register(P, 1, DataType.UINT64),)
RIGHT = [0x01F4_01F5_01F6_01F7]


@pytest.fixture
async def serve():
    devices = []

    async def _serve(
        *script: Behaviour, then: Behaviour | None = None, timeout_s: float = 0.15, port: int = 0
    ):
        device = Misbehaving(list(REGISTERS), list(script), then=then or Behaviour())
        devices.append(device)
        port = await device.serve_tcp(port)
        return device, ModbusTcpBus(name="field", host="127.0.0.1", port=port, timeout_s=timeout_s)

    yield _serve
    for device in devices:
        await device.close()


async def test_a_sound_device_is_read_in_pieces_too(serve):
    _, bus = await serve(Behaviour(), Behaviour(piece_bytes=2, piece_pause_s=0.002), Behaviour(piece_bytes=5))
    async with driven(bus, *ONE) as bench:
        assert [await bench.ask() for _ in range(3)] == [RIGHT] * 3


@pytest.mark.parametrize(
    ("mishap", "message"),
    [
        (Behaviour(extra_registers=-1), "does not fit"),
        (Behaviour(extra_registers=1), "does not fit"),
        (Behaviour(extra_registers=-4), "does not fit"),
        (Behaviour(unit_id=2), "no answer"),
        (Behaviour(transaction_offset=1), "no answer"),
        (Behaviour(transaction_offset=-1), "does not fit"),
        (Behaviour(exception_code=2), r"exception 2 \(illegal data address\)"),
        (Behaviour(stray=b"\x00"), "no answer"),
        (Behaviour(garbage=b"\xde\xad\xbe\xef" * 20), "no answer"),
        (Behaviour(garbage=bytes.fromhex("000100000003 010300")), "does not fit"),
        (Behaviour(garbage=bytes.fromhex("000100000004 01030107")), "no answer"),
        (Behaviour(garbage=bytes.fromhex("000100000006 010500010000")), "no answer"),
        (Behaviour(garbage=bytes.fromhex("000100000002 0103")), "no answer"),
        (Behaviour(garbage=bytes.fromhex("000100000005 0183020000")), "no answer"),
        (SILENT, r"no answer within 0\.15 s"),
        (Behaviour(hang_up=True, silent=True), "link lost"),
    ],
)
async def test_one_bad_answer_costs_one_sample(serve, mishap, message, caplog):
    """The number 0 (offset -1 on the first question) is no number: it would fit any question."""
    _, bus = await serve(mishap)
    async with driven(bus, *ONE) as bench:
        with pytest.raises(DeviceError, match=message):
            await bench.ask()
        assert await bench.ask_until_answered() == RIGHT
    assert caplog.records == [], "the library and the event loop have nothing to complain of"


async def test_an_answer_with_another_function_is_refused(serve):
    answer = bytes.fromhex("0001 0000 000b 01 04 08 0001000200030004")
    _, bus = await serve(Behaviour(garbage=answer))
    async with driven(bus, *ONE) as bench:
        with pytest.raises(DeviceError, match="does not fit"):
            await bench.ask()
        assert await bench.ask() == RIGHT


async def test_a_late_answer_is_never_the_next_one(serve):
    device, bus = await serve(*[Behaviour(delay_s=0.25)] * 4)
    asked = (register(P, 0, unit_id=1), register(T, 2), register(X, 4))
    bus = ModbusTcpBus(name="field", host=bus.host, port=bus.port, timeout_s=bus.timeout_s, max_gap=0)
    answers = []
    async with driven(bus, *asked) as bench:
        for number in range(12):
            block = number % 3
            try:
                answers.append((block, *(await bench.ask(bench.requests[block]))))
            except DeviceError:
                continue
    assert len(answers) >= 6
    assert all(value == (7, 501, 503)[block] for block, value in answers)
    assert len(device.requests) == 12


async def test_a_slow_unit_has_a_time_out_of_its_own(serve):
    _, bus = await serve(then=Behaviour(delay_s=0.2), timeout_s=0.05)
    async with driven(bus, *ONE) as bench:
        with pytest.raises(DeviceError, match=r"no answer within 0\.05 s"):
            await bench.ask()
    patient = replace(bus, units=(UnitTiming(unit_id=1, timeout_s=5.0),))
    async with driven(patient, *ONE) as bench:
        assert await bench.ask() == RIGHT


async def test_a_half_open_link_is_dropped_after_two_unanswered_questions(serve):
    device, bus = await serve(SILENT, SILENT)
    async with driven(bus, *ONE) as bench:
        for _ in range(2):
            with pytest.raises(DeviceError, match="no answer"):
                await bench.ask()
        assert await bench.ask() == RIGHT
    assert len(device._writers) == 2, "the third question came over a new link"


async def test_the_kernel_watches_the_link_too(serve):
    _, bus = await serve()
    async with driven(bus, *ONE) as bench:
        await bench.driver.ensure_ready()
        link = bench.driver._client.ctx.transport.get_extra_info("socket")
        assert link.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1


async def test_the_loss_of_the_link_ends_the_wait(serve):
    _, bus = await serve(Behaviour(silent=True, hang_up=True, delay_s=0.05), timeout_s=600.0)
    async with asyncio.timeout(PATIENCE_S), driven(bus, *ONE) as bench:
        with pytest.raises(DeviceError, match="link lost"):
            await bench.ask()
        assert await bench.ask() == RIGHT


async def test_a_cancelled_question_takes_its_link_with_it(serve):
    device, bus = await serve(Behaviour(delay_s=0.1), timeout_s=600.0)
    async with asyncio.timeout(PATIENCE_S), driven(bus, *ONE) as bench:
        asked = asyncio.create_task(bench.ask())
        while not device.requests:
            await asyncio.sleep(0.005)
        asked.cancel()
        with pytest.raises(asyncio.CancelledError):
            await asked
        assert await bench.ask() == RIGHT
    assert len(device._writers) == 2


async def test_nobody_listening_is_a_device_error(serve):
    device, bus = await serve()
    await device.close()
    async with driven(bus, *ONE) as bench:
        with pytest.raises(
            DeviceError, match=r"field \(127\.0\.0\.1:\d+\): cannot connect: Connection refused"
        ):
            await bench.ask()


async def test_a_restarted_server_is_found_again_and_both_edges_are_told_once(serve, caplog):
    caplog.set_level(logging.INFO, logger="logger.acquire")
    device, bus = await serve()
    async with polled(bus, *ONE) as bench:
        await bench.until(lambda: len(bench.samples) >= 3)
        await device.close()
        await bench.until(lambda: bench.poller.requests[0].counts.failed >= 3)
        before = len(bench.samples)
        await serve(port=bus.port)
        await bench.until(lambda: len(bench.samples) >= before + 3)
    states = [event.state for event in bench.edges]
    assert states == [ChannelState.PRESENT, ChannelState.LOST, ChannelState.PRESENT]
    assert bench.edges[2].missed_polls >= 3
    told = [record.levelname for record in caplog.records if "still lost" not in record.getMessage()]
    assert told == ["WARNING", "INFO"]
    times = [sample.t_ms for sample in bench.samples]
    assert times == sorted(set(times))


async def test_a_device_that_is_not_there_at_the_start_is_read_when_it_comes(serve):
    device, bus = await serve()
    await device.close()
    async with polled(bus, *ONE) as bench:
        await bench.until(lambda: bench.poller.requests[0].counts.failed >= 2)
        await serve(port=bus.port)
        await bench.until(lambda: len(bench.samples) >= 2)
    assert [event.state for event in bench.events] == [ChannelState.LOST, ChannelState.PRESENT]


async def test_all_four_tables_are_read_as_what_they_are(serve):
    device, bus = await serve()
    bindings = (
        bit(IN, 5),
        bit(T, 1, Table.DISCRETE),
        register(P, 1, DataType.UINT32),
        register(X, 4, table=Table.INPUT),
    )
    async with polled(bus, *bindings) as bench:
        await bench.until(lambda: len(bench.samples) >= 12)
    values = {reading.quantity: reading.raw for sample in bench.samples for reading in sample.readings}
    assert values == {IN: 1, T: 0, P: 0x01F4_01F5, X: 503}
    assert set(device.function_codes) == {1, 2, 3, 4}
