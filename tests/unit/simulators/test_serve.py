"""The served rig: one reading over every transport, silence as silence, time from the first request on."""

import asyncio
import json
import os
import sys
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.client.base import ModbusBaseClient
from pymodbus.exceptions import ModbusIOException

from simulators.modbus_server import ModbusRig
from simulators.registers import registers_of, text_line_of
from simulators.sensors import Reading, Sensors
from simulators.serve import ScaledRig
from simulators.text_line import TextLineRig
from tests.unit.simulators.joints import short_joint

READING = Reading(8286, 2213, 1795, 1)


class Instrument:
    """Gives whatever `reading` is set to, and counts how often it was asked."""

    def __init__(self) -> None:
        self.reading: Reading | None = READING
        self.asked = 0

    def __call__(self) -> Reading | None:
        self.asked += 1
        return self.reading


@pytest.fixture(params=["tcp", "rtu"])
async def link(request: pytest.FixtureRequest) -> AsyncIterator[tuple[Instrument, ModbusBaseClient]]:
    instrument = Instrument()
    rig = ModbusRig(instrument)
    client: ModbusBaseClient
    if request.param == "tcp":
        host, port = await rig.serve_tcp("127.0.0.1", 0)
        client = AsyncModbusTcpClient(host, port=port, timeout=2.0, retries=0)
    else:
        client = AsyncModbusSerialClient(await rig.serve_rtu(), baudrate=115200, timeout=2.0, retries=0)
    assert await client.connect()
    yield instrument, client
    client.close()
    await rig.close()


async def test_input_and_holding_registers_hold_the_whole_map(
    link: tuple[Instrument, ModbusBaseClient],
) -> None:
    _instrument, client = link
    inputs = await client.read_input_registers(0, count=14, device_id=1)
    holding = await client.read_holding_registers(0, count=14, device_id=1)
    assert inputs.registers == holding.registers == registers_of(READING)
    four = await client.read_input_registers(0, count=4, device_id=1)
    assert four.registers == [8286, 2213, 1795, 1]


async def test_every_request_sees_the_moment(link: tuple[Instrument, ModbusBaseClient]) -> None:
    instrument, client = link
    assert instrument.asked == 0
    await client.read_input_registers(0, count=1, device_id=1)
    instrument.reading = READING._replace(pressure_counts=7000)
    assert (await client.read_input_registers(0, count=1, device_id=1)).registers == [7000]


async def test_writing_and_addresses_outside_the_map_are_refused(
    link: tuple[Instrument, ModbusBaseClient],
) -> None:
    _instrument, client = link
    assert (await client.write_register(0, 5, device_id=1)).exception_code == 1
    assert (await client.read_input_registers(12, count=4, device_id=1)).exception_code == 2
    assert (await client.read_input_registers(0, count=1, device_id=1)).registers == [8286]


async def test_a_silent_device_sends_nothing_and_answers_again_afterwards(
    link: tuple[Instrument, ModbusBaseClient],
) -> None:
    instrument, client = link
    instrument.reading = None
    with pytest.raises(ModbusIOException):
        await client.read_input_registers(0, count=1, device_id=1)
    instrument.reading = READING
    assert (await client.read_input_registers(0, count=1, device_id=1)).registers == [8286]


async def test_the_text_line_is_sent_while_somebody_listens() -> None:
    instrument = Instrument()
    rig = TextLineRig(instrument)
    rig.send()
    assert instrument.asked == 0
    end = os.open(rig.path, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    rig.send()
    instrument.reading = None
    rig.send()
    received = os.read(end, 4096)
    os.close(end)
    rig.close()
    assert received == text_line_of(READING).encode("ascii") + b"\r\n"


async def test_a_reader_that_does_not_read_never_stops_the_stream() -> None:
    rig = TextLineRig(Instrument())
    end = os.open(rig.path, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    for _ in range(2000):
        rig.send()
    os.close(end)
    rig.close()


async def test_the_stream_repeats() -> None:
    instrument = Instrument()
    rig = TextLineRig(instrument)
    end = os.open(rig.path, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    task = asyncio.get_running_loop().create_task(rig.stream(0.001))
    while instrument.asked < 3:
        await asyncio.sleep(0.001)
    task.cancel()
    os.close(end)
    rig.close()


async def test_a_line_that_is_unplugged_is_gone_and_another_one_after_under_the_same_name(
    tmp_path: Path,
) -> None:
    link = tmp_path / "rtu"
    rig = ModbusRig(Instrument())
    assert await rig.serve_rtu(link) == str(link)
    pty = link.readlink()
    end = os.open(link, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    await rig.unplug()
    assert not os.path.lexists(link)
    with pytest.raises(OSError, match="Input/output error"):
        os.write(end, b"x")
    await rig.plug()
    assert link.readlink() != pty, "the old one is still held open"
    os.close(end)
    client = AsyncModbusSerialClient(str(link), baudrate=115200, timeout=2.0, retries=0)
    assert await client.connect()
    assert (await client.read_input_registers(0, count=1, device_id=1)).registers == [8286]
    client.close()
    await rig.close()
    assert not os.path.lexists(link)


async def test_a_port_that_is_unplugged_closes_and_listens_again_where_it_was() -> None:
    rig = ModbusRig(Instrument())
    host, port = await rig.serve_tcp("127.0.0.1", 0)
    reader, writer = await asyncio.open_connection(host, port)
    writer.write(bytes.fromhex("0001 0000 0006 01 04 0000 0001"))
    assert (await reader.readexactly(11))[-2:] == READING.pressure_counts.to_bytes(2)
    await rig.unplug()
    assert await reader.read() == b"", "the connection is closed"
    writer.close()
    with pytest.raises(ConnectionRefusedError):
        await asyncio.open_connection(host, port)
    await rig.plug()
    _reader, writer = await asyncio.open_connection(host, port)
    writer.close()
    await rig.close()


async def test_a_device_without_power_leaves_its_connections_hanging_and_resets_them_when_it_is_back() -> (
    None
):
    instrument = Instrument()
    rig = ModbusRig(instrument)
    host, port = await rig.serve_tcp("127.0.0.1", 0)
    reader, writer = await asyncio.open_connection(host, port)
    await asyncio.sleep(0)
    instrument.reading = None
    rig.lose_power()
    with pytest.raises(ConnectionRefusedError):
        await asyncio.open_connection(host, port)
    writer.write(bytes.fromhex("0001 0000 0006 01 04 0000 0001"))
    asked = instrument.asked
    while instrument.asked == asked:
        await asyncio.sleep(0.01)
    assert not reader.at_eof()
    writer.close()
    await rig.unplug()
    await rig.restart()
    with pytest.raises(ConnectionRefusedError):
        await asyncio.open_connection(host, port)
    await rig.plug()
    instrument.reading = READING
    reader, writer = await asyncio.open_connection(host, port)
    writer.write(bytes.fromhex("0001 0000 0006 01 04 0000 0001"))
    await reader.readexactly(11)
    rig.lose_power()
    await rig.restart()
    with pytest.raises(ConnectionResetError):
        await reader.read()
    writer.close()
    _reader, writer = await asyncio.open_connection(host, port)
    writer.close()
    await rig.close()


async def test_a_port_that_somebody_else_has_meanwhile_is_waited_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    rig = ModbusRig(Instrument())
    host, port = await rig.serve_tcp("127.0.0.1", 0)
    await rig.unplug()
    other = await asyncio.start_server(lambda _reader, writer: writer.close(), host, port)
    plugging = asyncio.create_task(rig.plug())
    while not (told := capsys.readouterr().err):
        await asyncio.sleep(0.01)
    assert f"{host}:{port} cannot be served" in told
    other.close()
    await other.wait_closed()
    await plugging
    _reader, writer = await asyncio.open_connection(host, port)
    writer.close()
    await rig.close()


async def test_an_unplugged_text_line_streams_again_under_its_name(tmp_path: Path) -> None:
    rig = TextLineRig(Instrument(), tmp_path / "line")
    rig.end.unplug()
    rig.send()
    assert not rig.end.is_listened_to
    assert not os.path.lexists(rig.path)
    rig.end.plug()
    end = os.open(rig.path, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    rig.send()
    assert os.read(end, 4096) == text_line_of(READING).encode("ascii") + b"\r\n"
    os.close(end)
    rig.close()


def test_the_joint_starts_with_the_first_reading_and_runs_at_the_time_scale() -> None:
    sensors = Sensors(short_joint(), seed=1)
    now_s = 500.0
    rig = ScaledRig(sensors, 10.0, lambda: now_s)
    now_s = 777.0
    assert rig.read() == sensors.read(0.0)
    now_s = 788.5
    assert rig.read() == sensors.read(115.0)
    now_s = 777.0 + 1e5
    assert rig.read() == sensors.read(sensors.trajectory.duration_s)


@pytest.mark.parametrize("ending", ["stdin", "signal"])
async def test_the_process_says_when_it_is_ready_and_ends_cleanly(ending: str) -> None:
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-W", "error", "-m", "simulators", "serve", "slow-changeover"),
        *("--tcp", "127.0.0.1:0", "--rtu", "--line", "--time-scale", "25", "--cooling-s", "60"),
        "--exit-with-stdin",
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    assert process.stdin
    assert process.stdout
    ready = json.loads(await process.stdout.readline())
    assert ready["tcp"]["port"] > 0
    assert ready["rtu"]["path"] != ready["line"]["path"]
    assert ready["scenario"] == "slow-changeover"
    assert ready["time_scale"] == 25.0
    assert ready["expected_codes"] == ["changeover.duration.long"]
    if ending == "stdin":
        process.stdin.close()
    else:
        process.terminate()
    _out, errors = await process.communicate()
    assert (process.returncode, errors) == (0, b"")
