"""What devices were asked in a long mixed run, with every mishap in it: reads, and nothing else."""

import asyncio
import random

import pytest

from logger.domain.bus import ModbusRtuBus, ModbusTcpBus, Table
from logger.domain.channel import DataType, Quantity
from simulators.misbehave import SILENT, Behaviour, Misbehaving
from tests.system.acquire.bench import polled
from tests.unit.acquire.rig_builders import bit, register

pytestmark = pytest.mark.system

MISHAPS = (
    Behaviour(),
    Behaviour(),
    Behaviour(),
    SILENT,
    Behaviour(delay_s=0.15),
    Behaviour(bad_crc=True),
    Behaviour(exception_code=1),
    Behaviour(extra_registers=1),
    Behaviour(stray=b"\x00"),
    Behaviour(garbage=b"\x01\x05\x00\x00"),
    Behaviour(unit_id=3),
    Behaviour(hang_up=True),
)
BINDINGS = (
    bit(Quantity.PLATE_IN, 3),
    bit(Quantity.PLATE_IN, 4, Table.DISCRETE),
    register(Quantity.PRESSURE, 0, DataType.FLOAT32, 50.0),
    register(Quantity.PLATE_TEMPERATURE, 8, table=Table.INPUT),
    register(Quantity.CARRIAGE, 30, rate_hz=20.0),
)


@pytest.mark.parametrize("transport", ["tcp", "rtu"])
async def test_only_function_codes_one_to_four_are_ever_sent(transport):
    draw = random.Random(20)
    device = Misbehaving(list(range(40)), [draw.choice(MISHAPS) for _ in range(150)])
    if transport == "tcp":
        port = await device.serve_tcp()
        bus = ModbusTcpBus(name="field", host="127.0.0.1", port=port, timeout_s=0.06)
    else:
        path = device.serve_pty()
        bus = ModbusRtuBus(name="field", path=path, baudrate=115200, timeout_s=0.06, worst_latency_s=0.01)
    async with polled(bus, *BINDINGS) as bench:
        await bench.until(lambda: len(device.requests) >= 250)
        await bench.until(lambda: all(request.counts.good >= 5 for request in bench.poller.requests))
    await asyncio.sleep(0)
    await device.close()
    assert set(device.function_codes) == {1, 2, 3, 4}
    assert all(len(request) == 6 for request in device.requests)
