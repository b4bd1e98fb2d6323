"""Our drivers read a device that somebody else wrote: libmodbus, on TCP and on a serial line."""

import shutil
import struct
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from logger.acquire.sweep import sweep_rtu, sweep_tcp
from logger.domain.bus import Bus, ModbusRtuBus, ModbusTcpBus, Parity, Table
from logger.domain.bus_scan import ScanPlan
from logger.domain.channel import DataType, Quantity, Scaling, WordOrder
from logger.domain.serial_ports import LineSetting
from logger.errors import DeviceError
from tests.system.acquire.bench import driven
from tests.system.independent.wire import wire
from tests.unit.acquire.rig_builders import RealClock, bit, register

pytestmark = [
    pytest.mark.system,
    pytest.mark.needs("gcc", "gcc"),
    pytest.mark.needs("libmodbus-dev", "/usr/include/modbus/modbus.h"),
]

UNIT_ID = 17
VALUES: dict[DataType, tuple[str, float]] = {
    DataType.UINT16: ("FFFE", 65534),
    DataType.INT16: ("FFFE", -2),
    DataType.UINT32: ("F8A432EB", 4171510507),
    DataType.INT32: ("F8A432EB", -123456789),
    DataType.UINT64: ("0123456789ABCDEF", 81985529216486895),
    DataType.INT64: ("FFFFFFFFFFFFFF9C", -100),
    DataType.FLOAT32: (struct.pack(">f", 18.4).hex(), 18.4),
    DataType.FLOAT64: (struct.pack(">d", -214.53125).hex(), -214.53125),
}
"""Per type its bytes, the most significant first, and the number (two's complement worked by hand)."""
PLACES = {
    2: {"ABCD": (0, 1), "BADC": (1, 0)},
    4: {"ABCD": (0, 1, 2, 3), "CDAB": (2, 3, 0, 1), "BADC": (1, 0, 3, 2), "DCBA": (3, 2, 1, 0)},
    8: {
        "ABCD": (0, 1, 2, 3, 4, 5, 6, 7),
        "CDAB": (6, 7, 4, 5, 2, 3, 0, 1),
        "BADC": (1, 0, 3, 2, 5, 4, 7, 6),
        "DCBA": (7, 6, 5, 4, 3, 2, 1, 0),
    },
}
"""Which byte of the number comes at each place of the registers."""
FLOAT = -3.14159
"""Laid by the device behind its registers in four orders; their names differ between its versions."""


def layout() -> tuple[list[int], list[tuple[DataType, WordOrder, int, float]]]:
    """The registers, and where which number stands in them in which order."""
    registers: list[int] = []
    places = []
    for data_type, (digits, number) in VALUES.items():
        data = bytes.fromhex(digits)
        for order, indices in PLACES[len(data)].items():
            places.append((data_type, WordOrder(order), len(registers), number))
            mixed = bytes(data[index] for index in indices)
            registers += struct.unpack(f">{len(data) // 2}H", mixed)
    return registers, places


REGISTERS, NUMBERS = layout()


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    built = tmp_path_factory.mktemp("device") / "device"
    source = Path(__file__).with_name("device.c")
    gcc = shutil.which("gcc") or "gcc"
    subprocess.run([gcc, "-O2", "-o", built, source, "-lmodbus"], check=True)
    return built


def started(stack: ExitStack, program: Path, *arguments: str) -> str:
    """Start the device until the stack ends; returns the line that it prints when it is ready."""
    process = stack.enter_context(
        subprocess.Popen([program, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    )
    assert process.stdin
    assert process.stdout
    stack.callback(process.stdin.close)
    process.stdin.write(f"{len(REGISTERS)} {' '.join(f'{r:x}' for r in REGISTERS)} {FLOAT}\n")
    process.stdin.flush()
    return process.stdout.readline().strip()


@pytest.fixture(params=["tcp", "rtu"])
def bus(request: pytest.FixtureRequest, program: Path) -> Iterator[Bus]:
    with ExitStack() as stack:
        if request.param == "tcp":
            port = int(started(stack, program, "tcp", "0"))
            yield ModbusTcpBus(name="field", host="127.0.0.1", port=port, timeout_s=5.0)
        else:
            ours, theirs = stack.enter_context(wire())
            assert started(stack, program, "rtu", theirs) == "ready"
            yield ModbusRtuBus(name="field", path=ours, timeout_s=1.0, worst_latency_s=0.05)


@pytest.mark.parametrize("table", [Table.HOLDING, Table.INPUT])
async def test_every_type_in_every_order(bus: Bus, table: Table) -> None:
    for data_type, order, address, number in NUMBERS:
        binding = register(Quantity.PRESSURE, address, data_type, unit_id=UNIT_ID, table=table)
        async with driven(bus, binding) as bench:
            (raw,) = await bench.ask_until_answered()
        value = Scaling(data_type=data_type, word_order=order).value_of(raw)
        assert value == pytest.approx(number, rel=1e-7), (data_type, order)
        if data_type is not DataType.FLOAT32:
            assert value == float(number)


async def test_the_librarys_own_floats(bus: Bus) -> None:
    """Each of its four layouts is right in one order of ours, and each order has its layout."""
    right = []
    for place in range(len(WordOrder)):
        binding = register(Quantity.PRESSURE, len(REGISTERS) + 2 * place, DataType.FLOAT32, unit_id=UNIT_ID)
        async with driven(bus, binding) as bench:
            (raw,) = await bench.ask_until_answered()
        values = {o: Scaling(data_type=DataType.FLOAT32, word_order=o).value_of(raw) for o in WordOrder}
        right += [order for order, value in values.items() if value == pytest.approx(FLOAT, rel=1e-6)]
    assert sorted(right) == sorted(WordOrder)


@pytest.mark.parametrize("table", [Table.COIL, Table.DISCRETE])
async def test_bits_over_more_than_a_byte(bus: Bus, table: Table) -> None:
    bits = [
        bit(quantity, address, table, unit_id=UNIT_ID)
        for quantity, address in zip(list(Quantity)[:4], (0, 7, 8, 21), strict=True)
    ]
    async with driven(bus, *bits) as bench:
        answers = [await bench.ask_until_answered(request) for request in bench.requests]
    found = [raw for answer in answers for raw in answer]
    assert found == [REGISTERS[address] & 1 for address in (0, 7, 8, 21)]


async def test_what_is_not_there_is_refused_with_the_devices_own_exception(bus: Bus) -> None:
    async with driven(bus, register(Quantity.PRESSURE, 60000, unit_id=UNIT_ID)) as bench:
        with pytest.raises(DeviceError, match=r"exception 2 \(illegal data address\)"):
            await bench.ask()


async def test_it_is_found(bus: Bus) -> None:
    """TCP devices answer whatever unit id they are asked by; on the line one of three answers."""
    asked: list[int] = []
    if isinstance(bus, ModbusTcpBus):
        plan = ScanPlan(unit_ids=(UNIT_ID,), timeout_s=5.0)
        result = await sweep_tcp(bus, plan, RealClock(), lambda question: asked.append(question.number))
    else:
        setting = LineSetting(19200, Parity.EVEN, 1)
        plan = ScanPlan(settings=(setting,), unit_ids=(16, UNIT_ID, 18), timeout_s=0.5)
        result = await sweep_rtu(bus.path, plan, lambda question: asked.append(question.number))
    assert [found.unit_id for found in result.found] == [UNIT_ID]
    silent = len(plan.unit_ids) - 1
    assert len(asked) == len(plan.unit_ids) + 3 * silent, "who gave data is not asked for more"
