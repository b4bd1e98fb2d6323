"""The fault catalogue: each fault against each driver. Nothing wrong is believed, and little is lost.

What is counted are polls, never seconds: how many failed, and how many before the first sample afterwards.
"""

import asyncio
import contextlib
import os
import random
from dataclasses import replace
from pathlib import Path

import pytest

from logger.domain.bus import Checksum, ModbusRtuBus, ModbusTcpBus, ReplayBus, SerialLineBus
from logger.domain.channel import Channel, Quality, Quantity
from logger.domain.rig import Rig
from logger.domain.scale import Scaler
from simulators.misbehave import SILENT, Behaviour
from tests.system.acquire.bench import PollerBench, polled
from tests.system.acquire.fault_rigs import (
    FAULTS,
    KINDS,
    RATE_HZ,
    RIGHT_COUNT,
    TIMEOUT_S,
    Device,
    ModbusDevice,
    TextDevice,
    device_of,
    form_of,
    line_of,
)
from tests.unit.acquire.rig_builders import column

pytestmark = pytest.mark.system

MOST_POLLS_TO_RECOVER = 2 * int(RATE_HZ)
"""Two seconds' worth."""
NOISES = 8


def raws_of(bench: PollerBench) -> list[int]:
    return [reading.raw for sample in bench.samples for reading in sample.readings]


async def until_well(bench: PollerBench, device: Device, samples: int = 5) -> None:
    """Wait until the fault has been sent and so many samples have come after it."""
    await bench.until(device.is_over)
    before = len(bench.samples)
    await bench.until(lambda: len(bench.samples) >= before + samples)


@pytest.mark.parametrize(
    ("kind", "name"),
    [(kind, name) for name, fault in FAULTS.items() for kind in KINDS if form_of(fault, kind) is not None],
)
async def test_one_fault_costs_no_more_than_its_sample(kind: str, name: str) -> None:
    fault = FAULTS[name]
    device = await device_of(kind, fault)
    try:
        async with polled(device.bus, device.binding) as bench:
            await until_well(bench, device)
            counts = bench.poller.requests[0].counts
    finally:
        await device.close()
    assert set(raws_of(bench)) == {device.right}
    assert counts.failed <= fault.lost


@pytest.mark.parametrize("kind", KINDS)
async def test_unplugged_and_plugged_in_again(kind: str, tmp_path: Path) -> None:
    """A server that restarts, an adapter that is pulled and comes back under its stable name."""
    device = await device_of(kind, None)
    link = tmp_path / "adapter"
    bus = device.bus
    if isinstance(bus, ModbusRtuBus | SerialLineBus):
        os.symlink(bus.path, link)
        bus = replace(bus, path=str(link))
    try:
        async with polled(bus, device.binding) as bench:
            counts = bench.poller.requests[0].counts
            await bench.until(lambda: len(bench.samples) >= 3)
            port = bus.port if isinstance(bus, ModbusTcpBus) else 0
            # The stable name goes first: the number of a pty is another test's at once.
            link.unlink(missing_ok=True)
            await device.close()
            await bench.until(lambda: counts.failed >= 3)
            device = await device_of(kind, None, port)
            if not isinstance(bus, ModbusTcpBus):
                os.symlink(device.bus.path, link)
            failed, samples = counts.failed, len(bench.samples)
            await bench.until(lambda: len(bench.samples) > samples)
            assert counts.failed - failed <= MOST_POLLS_TO_RECOVER
    finally:
        await device.close()
    assert set(raws_of(bench)) == {device.right}
    states = [event.state for event in bench.edges]
    assert states == ["present", "lost", "present"]


async def test_a_half_open_connection_is_given_up_after_two_polls() -> None:
    """Connected and silent for ever, while a new connection would be answered."""
    device = await ModbusDevice(None).serve("tcp")
    try:
        async with polled(device.bus, device.binding) as bench:
            await bench.until(lambda: len(bench.samples) >= 3)
            device.device._script = [SILENT, SILENT]
            connections = len(device.device._writers)
            await bench.until(lambda: len(device.device._writers) > connections)
            samples = len(bench.samples)
            await bench.until(lambda: len(bench.samples) > samples)
            assert bench.poller.requests[0].counts.failed == 2
    finally:
        await device.close()


class TextServer:
    """Streams lines over TCP; a connection made while `is_silent` stays open and never gets one."""

    def __init__(self) -> None:
        self.connections = 0
        self.is_silent = False
        self._server: asyncio.Server
        self._writers: list[asyncio.StreamWriter] = []

    async def serve(self, port: int = 0) -> int:
        self._server = await asyncio.start_server(self._connection, "127.0.0.1", port)
        return int(self._server.sockets[0].getsockname()[1])

    async def _connection(self, _reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections += 1
        self._writers.append(writer)
        mine = self.connections
        with contextlib.suppress(ConnectionError):
            while not writer.is_closing():
                if not (self.is_silent and mine == 1):
                    writer.write(line_of(b"P1=18.40"))
                    await writer.drain()
                await asyncio.sleep(1 / RATE_HZ)

    async def close(self) -> None:
        self._server.close()
        for writer in self._writers:
            writer.close()
        await self._server.wait_closed()


async def test_a_half_open_connection_of_a_text_device_is_given_up_after_two_lines() -> None:
    server = TextServer()
    bus = SerialLineBus(
        name="field",
        path=f"socket://127.0.0.1:{await server.serve()}",
        pattern=r"P1=(?P<bar>[0-9.]+)",
        checksum=Checksum.XOR,
        checksum_mark="*",
        timeout_s=TIMEOUT_S,
    )
    try:
        async with polled(bus, TextDevice.binding) as bench:
            await bench.until(lambda: len(bench.samples) >= 3)
            server.is_silent = True
            await bench.until(lambda: server.connections == 2)
            samples = len(bench.samples)
            await bench.until(lambda: len(bench.samples) > samples)
            assert bench.poller.requests[0].counts.failed == 2
    finally:
        await server.close()
    assert set(raws_of(bench)) == {RIGHT_COUNT}


@pytest.mark.parametrize("kind", ["tcp", "rtu"])
async def test_not_a_number_is_kept_as_read_and_not_used(kind: str) -> None:
    device = await ModbusDevice(None).serve(kind)
    device.device.registers[:2] = [0x7FC0, 0x0000]
    try:
        async with polled(device.bus, device.binding) as bench:
            await bench.until(lambda: len(bench.samples) >= 2)
    finally:
        await device.close()
    assert set(raws_of(bench)) == {0x7FC0_0000}
    scaler = Scaler(Rig(name="r", channels=(device.binding.channel,)))
    assert scaler.read(bench.samples[0]).pressure_bar is None
    assert scaler.qualities[Quantity.PRESSURE] is Quality.NOT_A_NUMBER


@pytest.mark.parametrize("kind", ["streamed text", "polled text"])
async def test_not_a_number_in_a_line_is_no_reading(kind: str) -> None:
    device = TextDevice(kind, line_of(b"P1=nan"))
    device.bus = replace(device.bus, pattern=r"P1=(?P<bar>\S+)")
    try:
        async with polled(device.bus, device.binding) as bench:
            await until_well(bench, device)
    finally:
        await device.close()
    assert set(raws_of(bench)) == {RIGHT_COUNT}
    assert bench.poller.requests[0].counts.failed == 0


@pytest.mark.parametrize("kind", KINDS)
async def test_a_stuck_value_is_marked(kind: str) -> None:
    device = await device_of(kind, None)
    try:
        async with polled(device.bus, device.binding) as bench:
            await bench.until(
                lambda: bool(bench.samples) and bench.samples[-1].t_ms - bench.samples[0].t_ms > 300
            )
    finally:
        await device.close()
    channel: Channel = replace(device.binding.channel, stuck_after_s=0.3)
    scaler = Scaler(Rig(name="r", channels=(channel,)))
    marks = []
    for sample in bench.samples:
        scaler.read(sample)
        marks.append(scaler.qualities[Quantity.PRESSURE])
    assert marks[0] is Quality.GOOD
    assert marks[-1] is Quality.STUCK


async def test_a_replayed_file_keeps_its_gaps(tmp_path: Path) -> None:
    file = tmp_path / "curve.csv"
    file.write_text("time_s,pressure_bar\n0,18.4\n0.1,nan\n0.2,\n0.3,18.4\n", encoding="utf-8")
    bench = PollerBench(ReplayBus(name="field", file=str(file)), column(Quantity.PRESSURE, "pressure_bar"))
    await bench.poller.run()
    assert [sample.t_ms for sample in bench.samples] == [0, 300]


@pytest.mark.parametrize("kind", KINDS)
async def test_a_bus_full_of_noise_gives_no_value_and_comes_back(kind: str) -> None:
    """So many answers of noise in a row; a dead bus is asked once a second."""
    draw = random.Random(kind)
    if kind in ("tcp", "rtu"):
        modbus = await ModbusDevice(None).serve(kind)
        modbus.device._script = [
            Behaviour(garbage=draw.randbytes(draw.randrange(1, 60))) for _ in range(NOISES)
        ]
        modbus._enough = NOISES
        device: Device = modbus
    else:
        noise = b"\n".join(draw.randbytes(draw.randrange(1, 60)) for _ in range(NOISES)) + b"\n"
        device = TextDevice(kind, noise)
    try:
        async with polled(device.bus, device.binding) as bench:
            await until_well(bench, device)
    finally:
        await device.close()
    assert set(raws_of(bench)) == {device.right}
