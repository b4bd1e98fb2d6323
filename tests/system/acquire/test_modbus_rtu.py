"""The RTU driver over a pty against a device that misbehaves in every way the bus knows.

The blocks read have the same unit, function and length but each its own registers, so an answer taken for
another is seen at once.
"""

import asyncio
import os
from dataclasses import replace

import pytest

from logger.domain.bus import ModbusRtuBus, UnitTiming
from logger.domain.channel import DataType, Quantity
from logger.errors import DeviceError
from simulators.misbehave import SILENT, Behaviour, Misbehaving
from tests.system.acquire.bench import PATIENCE_S, driven, polled
from tests.unit.acquire.rig_builders import register

pytestmark = pytest.mark.system

P, T, X = Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE, Quantity.CARRIAGE
REGISTERS = [1000 + address for address in range(60)]
BLOCKS = (
    register(P, 0, DataType.UINT64),
    register(T, 20, DataType.UINT64),
    register(X, 40, DataType.UINT64),
)
TIMEOUT_S = 0.1


def bus_at(path: str, *, timeout_s: float = TIMEOUT_S, worst_latency_s: float = 0.04) -> ModbusRtuBus:
    return ModbusRtuBus(
        name="field",
        path=path,
        baudrate=115200,
        timeout_s=timeout_s,
        worst_latency_s=worst_latency_s,
        max_gap=0,
    )


def words_at(address: int) -> int:
    """What a read of four registers there must bring."""
    return int("".join(f"{1000 + address + i:04x}" for i in range(4)), 16)


RIGHT = [words_at(0), words_at(20), words_at(40)]


@pytest.fixture
async def serve():
    devices = []

    def _serve(*script: Behaviour, then: Behaviour | None = None, registers=REGISTERS):
        device = Misbehaving(list(registers), list(script), then=then or Behaviour())
        devices.append(device)
        return device, device.serve_pty()

    yield _serve
    for device in devices:
        await device.close()


async def answers_of(bench, polls: int) -> list[tuple[int, int]]:
    """Poll the blocks in turn; returns (block, value) of those that were answered."""
    answers = []
    for number in range(polls):
        block = number % len(BLOCKS)
        try:
            (value,) = await bench.ask(bench.requests[block])
        except DeviceError:
            continue
        answers.append((block, value))
    return answers


def assert_none_is_shifted(answers: list[tuple[int, int]]) -> None:
    assert [value for _, value in answers] == [RIGHT[block] for block, _ in answers]


async def test_a_sound_device_is_read(serve):
    device, path = serve()
    async with driven(bus_at(path), *BLOCKS) as bench:
        answers = await answers_of(bench, 9)
    assert len(answers) == 9
    assert_none_is_shifted(answers)
    assert set(device.function_codes) == {3}


@pytest.mark.parametrize("delay_s", [0.12, 0.16, 0.21, 0.3, 0.45, 0.7])
async def test_a_device_that_stays_late_is_never_believed_wrongly(serve, delay_s):
    """Time-out 0.1 s, quiet 0.08 s: answers come in the quiet time, in the next question, or later still."""
    _, path = serve(then=Behaviour(delay_s=delay_s))
    async with driven(bus_at(path), *BLOCKS) as bench:
        assert_none_is_shifted(await answers_of(bench, 12))


@pytest.mark.parametrize("stall_s", [0.12, 0.25, 0.33, 0.5])
async def test_a_device_late_once_is_back_in_step(serve, stall_s):
    """It stalls in its second answer (the first is the probe's) and works off what has come, in order."""
    _, path = serve(Behaviour(), Behaviour(delay_s=stall_s), Behaviour(delay_s=stall_s))
    async with driven(bus_at(path), *BLOCKS) as bench:
        answers = await answers_of(bench, 15)
    assert_none_is_shifted(answers)
    assert len(answers) >= 9


async def test_the_answer_to_a_cancelled_question_is_never_believed(serve):
    _, path = serve(Behaviour(), *[Behaviour(delay_s=0.08)] * 2)
    async with driven(bus_at(path), *BLOCKS) as bench:
        asked = asyncio.create_task(bench.ask(bench.requests[0]))
        await asyncio.sleep(0.15)
        asked.cancel()
        with pytest.raises(asyncio.CancelledError):
            await asked
        answers = await answers_of(bench, 9)
    assert_none_is_shifted(answers)
    assert len(answers) >= 7


async def test_after_a_time_out_the_line_is_quiet_before_the_next_question(serve):
    device, path = serve(Behaviour(), SILENT)
    async with driven(bus_at(path, worst_latency_s=0.3), *BLOCKS) as bench:
        with pytest.raises(DeviceError, match=r"unit 1 holding 0: no answer within 0\.1 s"):
            await bench.ask()
        next_one = asyncio.create_task(bench.ask())
        await asyncio.sleep(0.2)
        assert len(device.requests) == 2, "the probe and the unanswered one"
        assert await next_one == [RIGHT[0]]


@pytest.mark.parametrize("extra", [-2, -1, 1, 4])
async def test_an_answer_of_another_length_is_refused(serve, extra):
    _, path = serve(Behaviour(), Behaviour(extra_registers=extra))
    async with driven(bus_at(path), *BLOCKS) as bench:
        with pytest.raises(DeviceError, match="no answer"):
            await bench.ask()
        assert await bench.ask() == [RIGHT[0]]


@pytest.mark.parametrize("stray", ["00", "ff", "000000", "0703", "01", "0103", "010308", "0183"])
@pytest.mark.parametrize("piece_bytes", [0, 1])
async def test_stray_bytes_in_front_cost_no_sample(serve, stray, piece_bytes):
    how = Behaviour(stray=bytes.fromhex(stray), piece_bytes=piece_bytes, piece_pause_s=0.001)
    _, path = serve(then=how)
    async with driven(bus_at(path), *BLOCKS) as bench:
        answers = await answers_of(bench, 3)
    assert len(answers) == 3
    assert_none_is_shifted(answers)


@pytest.mark.parametrize(
    "mishap",
    [
        Behaviour(bad_crc=True),
        Behaviour(unit_id=2),
        Behaviour(garbage=bytes(range(40))),
        Behaviour(garbage=b"\x01"),
        SILENT,
    ],
    ids=["bad CRC", "wrong unit", "garbage", "one byte", "silence"],
)
async def test_one_bad_answer_costs_one_sample(serve, mishap):
    _, path = serve(Behaviour(), mishap)
    async with driven(bus_at(path), *BLOCKS) as bench:
        with pytest.raises(DeviceError):
            await bench.ask()
        answers = await answers_of(bench, 3)
    assert len(answers) == 3
    assert_none_is_shifted(answers)


async def test_a_damaged_answer_is_not_waited_for_until_the_time_out(serve):
    _, path = serve(Behaviour(), Behaviour(bad_crc=True))
    async with asyncio.timeout(PATIENCE_S), driven(bus_at(path, timeout_s=600.0), *BLOCKS) as bench:
        with pytest.raises(DeviceError, match="damaged"):
            await bench.ask()
        assert await bench.ask() == [RIGHT[0]]


async def test_pieces_and_doubled_answers_do_no_harm(serve):
    _, path = serve(then=Behaviour(piece_bytes=3, piece_pause_s=0.005, repeat=2))
    async with driven(bus_at(path, timeout_s=1.0), *BLOCKS) as bench:
        answers = await answers_of(bench, 6)
    assert len(answers) == 6
    assert_none_is_shifted(answers)


async def test_what_waits_before_a_question_is_not_its_answer(serve):
    """The second copy of an answer arrives on its own, and has the shape of the next one."""
    frame_bytes = 13
    _, path = serve(Behaviour(), Behaviour(repeat=2, piece_bytes=frame_bytes, piece_pause_s=0.05))
    async with driven(bus_at(path), *BLOCKS) as bench:
        assert await bench.ask(bench.requests[0]) == [RIGHT[0]]
        await asyncio.sleep(0.2)
        assert await bench.ask(bench.requests[1]) == [RIGHT[1]]


async def test_what_comes_before_the_question_has_left_is_not_its_answer(serve):
    """On a real line eight characters take their time; a pty has none, so one is given to it here."""
    _, path = serve(Behaviour())
    async with driven(bus_at(path, timeout_s=0.5), *BLOCKS) as bench:
        await bench.driver.ensure_ready()
        assert await bench.ask() == [RIGHT[0]]
        bench.driver._port.wire_character_s = 0.1 / 8
        with pytest.raises(DeviceError, match="no answer"):
            await bench.ask()


async def test_a_refusal_says_why_and_needs_no_probe(serve):
    device, path = serve(Behaviour(), Behaviour(exception_code=6))
    async with driven(bus_at(path), *BLOCKS) as bench:
        with pytest.raises(DeviceError, match=r"refused with exception 6 \(device busy\)"):
            await bench.ask()
        assert await bench.ask() == [RIGHT[0]]
    assert len(device.requests) == 3


async def test_a_device_with_one_register_is_brought_back_into_step_by_its_refusal(serve):
    device, path = serve(*[Behaviour(delay_s=0.3)] * 2, registers=[1234])
    async with driven(bus_at(path), register(P, 0)) as bench:
        values = []
        for _ in range(12):
            try:
                values += await bench.ask()
            except DeviceError:
                continue
    assert len(values) >= 6
    assert set(values) == {1234}
    assert any(request[5] > 1 for request in device.requests), "it was asked beyond its map"


class DeafBeyondItsMap(Misbehaving):
    """Ignores reads beyond its registers, against the standard."""

    def _take(self, request, framed, send, hang_up):
        if request[5] > len(self.registers):
            self.requests.append(request)
            return
        super()._take(request, framed, send, hang_up)


async def test_a_device_without_any_probe_is_believed_again_after_a_long_silence():
    device = DeafBeyondItsMap([1234], [Behaviour(), SILENT])
    bus = bus_at(device.serve_pty(), timeout_s=0.04, worst_latency_s=0.02)
    async with driven(bus, register(P, 0)) as bench:
        assert await bench.ask_until_answered() == [1234]
        with pytest.raises(DeviceError):
            await bench.ask()
        assert await bench.ask_until_answered() == [1234]
    await device.close()
    assert any(request[5] > 1 for request in device.requests)


async def test_a_slow_unit_has_a_time_out_of_its_own(serve):
    """Late by 0.15 s: too late for the bus's 0.05 s, in time for the unit's 2 s."""
    _, path = serve(then=Behaviour(delay_s=0.15))
    slow = UnitTiming(unit_id=1, timeout_s=2.0, worst_latency_s=0.2)
    async with driven(bus_at(path, timeout_s=0.05, worst_latency_s=0.02), *BLOCKS) as bench:
        with pytest.raises(DeviceError, match=r"no answer within 0\.05 s"):
            await bench.ask()
    _, path = serve(then=Behaviour(delay_s=0.15))
    patient = replace(bus_at(path, timeout_s=0.05, worst_latency_s=0.02), units=(slow,))
    async with driven(patient, *BLOCKS) as bench:
        answers = await answers_of(bench, 3)
    assert len(answers) == 3
    assert_none_is_shifted(answers)


async def test_the_pause_of_a_unit_is_kept_behind_its_answer(serve):
    device, path = serve()
    timing = UnitTiming(unit_id=1, timeout_s=5.0, worst_latency_s=0.04, pause_s=0.3)
    async with driven(replace(bus_at(path), units=(timing,)), *BLOCKS) as bench:
        await bench.ask()
        asked = len(device.requests)
        following = asyncio.create_task(bench.ask())
        await asyncio.sleep(0.1)
        assert len(device.requests) == asked, "nothing is asked in the pause"
        assert await following == [RIGHT[0]]


async def test_a_dead_unit_leaves_the_others_their_samples(serve):
    _, path = serve()
    dead = register(T, 0, DataType.UINT64, unit_id=9)
    async with polled(bus_at(path), BLOCKS[0], dead) as bench:
        await bench.until(lambda: len(bench.samples) >= 20)
        alive, silent = bench.poller.requests
        assert silent.counts.failed >= 2
        assert silent.counts.good == 0
        assert {r.raw for s in bench.samples for r in s.readings} == {RIGHT[0]}
        assert alive.counts.failed == 0


async def test_an_unplugged_port_is_noticed_at_once_and_found_again(serve, tmp_path):
    link = tmp_path / "adapter"
    device, path = serve(then=Behaviour(delay_s=3600))
    os.symlink(path, link)
    bus = bus_at(str(link), timeout_s=600.0)
    async with asyncio.timeout(PATIENCE_S), driven(bus, *BLOCKS) as bench:
        asked = asyncio.create_task(bench.ask())
        while not device.requests:
            await asyncio.sleep(0.01)
        await device.close()
        with pytest.raises(DeviceError, match="link lost"):
            await asked
        link.unlink()
        with pytest.raises(DeviceError, match="cannot open: no such port; beadwatch ports"):
            await bench.ask()
        _, path = serve()
        os.symlink(path, link)
        assert await bench.ask() == [RIGHT[0]]


async def test_a_port_belongs_to_one_program(serve):
    _, path = serve()
    async with driven(bus_at(path), *BLOCKS) as first, driven(bus_at(path), *BLOCKS) as second:
        assert await first.ask() == [RIGHT[0]]
        with pytest.raises(DeviceError, match="cannot open: another program has it open; a recorder"):
            await second.ask()
        assert await first.ask() == [RIGHT[0]]
