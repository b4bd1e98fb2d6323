"""How near the bus's own limit polling comes, and what the recorder costs: `python -m tests.bench.bus`."""

import argparse
import asyncio
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Coroutine, Iterator
from pathlib import Path
from statistics import median
from typing import Any

from pymodbus.client import AsyncModbusTcpClient

from logger.acquire.driver import Driver
from logger.acquire.grouping import requests_of
from logger.acquire.registry import driver_of
from logger.acquire.rtu_frame import OVERHEAD_BYTES, Question
from logger.config.rtu_budget import request_time_s
from logger.daemon.clock import MachineClock
from logger.domain.bus import Binding, Bus, ModbusPoint, ModbusRtuBus, ModbusTcpBus, Parity, Table
from logger.domain.channel import Channel, DataType, Quantity, Scaling
from tests.bench.timing import yardstick_s
from tests.system.processes import Recorder, simulated

AIMS = {9600: 0.95, 19200: 0.90, 38400: 0.85, 115200: 0.75}
"""Baud rate and the share of the formula's rate that is aimed at, 8E1 and four registers."""
TCP_AIM = 0.9
ROUNDS = 6
WARM_UP = 3
REGISTERS = 4


def binding() -> Binding:
    channel = Channel(quantity=Quantity.PRESSURE, scaling=Scaling(data_type=DataType.UINT64))
    return Binding(channel=channel, bus="bench", point=ModbusPoint(unit_id=1, table=Table.INPUT, address=0))


async def polls_per_s(bus: Bus, seconds: float) -> float:
    """Ask one after the other, as fast as the driver lets, for so long."""
    (request,) = requests_of(bus, [binding()])
    driver: Driver = driver_of(bus, (request,), MachineClock())
    await driver.ensure_ready()
    for _ in range(WARM_UP):
        await driver.read(request)
    count, begin_s = 0, time.perf_counter()
    while (spent_s := time.perf_counter() - begin_s) < seconds:
        await driver.read(request)
        count += 1
    await driver.ensure_closed()
    return count / spent_s


def bare_rtu_polls_per_s(path: str, bus: ModbusRtuBus, seconds: float) -> float:
    """The least there is: write, read as many bytes as must come, wait out the silence."""
    question = Question(1, Table.INPUT, 0, REGISTERS).frame
    silence_s = 0.00175 if bus.baudrate > 19200 else 3.5 * 11 / bus.baudrate
    port = os.open(path, os.O_RDWR | os.O_NOCTTY)
    count, begin_s = 0, time.perf_counter()
    while (spent_s := time.perf_counter() - begin_s) < seconds:
        os.write(port, question)
        received = 0
        while received < OVERHEAD_BYTES + 2 * REGISTERS:
            received += len(os.read(port, 256))
        time.sleep(silence_s)
        count += 1
    os.close(port)
    return count / spent_s


def rtu_line(baudrate: int, seconds: float) -> str:
    command = [sys.executable, "-m", "tests.bench.timed_device", str(baudrate), "E"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as device:
        assert device.stdin
        assert device.stdout
        path = device.stdout.readline().strip()
        bus = ModbusRtuBus(name="bench", path=path, baudrate=baudrate, parity=Parity.EVEN)
        rounds = [
            (
                asyncio.run(polls_per_s(bus, seconds / ROUNDS)),
                bare_rtu_polls_per_s(path, bus, seconds / ROUNDS),
            )
            for _ in range(ROUNDS)
        ]
        device.stdin.close()
    formula = 1 / request_time_s(bus, 2 * REGISTERS)
    ours, bare = (sorted(column) for column in zip(*rounds, strict=True))
    shares = [100 * polls / formula for polls in ours]
    return (
        f"RTU {baudrate} Bd 8E1: {median(ours):.1f} of {formula:.1f} polls/s, {median(shares):.1f} % of the "
        f"formula in the middle of {ROUNDS} rounds ({shares[0]:.1f} to {shares[-1]:.1f}; aim "
        f"{100 * AIMS[baudrate]:.0f} %); a bare loop in turn with it {100 * median(bare) / formula:.1f} %"
    )


async def bare_polls_per_s(bus: ModbusTcpBus, seconds: float) -> float:
    """The library alone in a loop."""
    client = AsyncModbusTcpClient(bus.host, port=bus.port, timeout=bus.timeout_s, retries=0)
    await client.connect()
    count, begin_s = 0, time.perf_counter()
    while (spent_s := time.perf_counter() - begin_s) < seconds:
        reply = await client.read_input_registers(0, count=REGISTERS, device_id=1)
        assert len(reply.registers) == REGISTERS
        count += 1
    client.close()
    return count / spent_s


def tcp_line(folder: Path, seconds: float) -> str:
    """Both in turn, since the machine's pace changes; the shares of each pair, and their middle."""
    shares, ours_all, bare_all = [], [], []
    with simulated("clean", folder, time_scale=1.0) as simulator:
        bus = ModbusTcpBus(name="bench", host="127.0.0.1", port=simulator.port)
        loops: list[Callable[[], Coroutine[Any, Any, float]]] = [
            lambda: polls_per_s(bus, seconds / ROUNDS),
            lambda: bare_polls_per_s(bus, seconds / ROUNDS),
        ]
        for number in range(ROUNDS):
            order = loops if number % 2 else loops[::-1]
            first, second = (asyncio.run(loop()) for loop in order)
            ours, bare = (first, second) if number % 2 else (second, first)
            ours_all.append(ours)
            bare_all.append(bare)
            shares.append(ours / bare)
    shares.sort()
    middle = (shares[ROUNDS // 2 - 1] + shares[ROUNDS // 2]) / 2
    return (
        f"TCP: {max(ours_all):.0f} polls/s against {max(bare_all):.0f} of the bare library; in pairs "
        f"{100 * middle:.1f} % ({100 * shares[0]:.0f} to {100 * shares[-1]:.0f}; aim {100 * TCP_AIM:.0f} %)"
    )


def recorder_line(folder: Path, seconds: float, transport: str) -> str:
    """`beadwatch run` at 10 Hz with four channels and a joint open."""
    with simulated("clean", folder, time_scale=1.0) as simulator:
        recorder = Recorder(folder, simulator.bus(transport), time_scale=1.0)
        with recorder.recording() as process:
            before, begin_s = cpu_s(process.pid), time.perf_counter()
            time.sleep(seconds)
            used = (cpu_s(process.pid) - before) / (time.perf_counter() - begin_s)
            peak_MB, now_MB = (kilobytes(process.pid, "status", name) / 1e3 for name in ("VmHWM", "VmRSS"))
            own_MB = kilobytes(process.pid, "smaps_rollup", "Private_Dirty") / 1e3
    return (
        f"Recorder, 10 Hz x 4 channels by {transport}, {seconds:g} s: {now_MB:.1f} MB resident, "
        f"{peak_MB:.1f} at its peak (aim 80), {own_MB:.1f} of it its own; {100 * used:.2f} % of one core "
        "(aim 5)"
    )


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def kilobytes(pid: int, file: str, name: str) -> float:
    """A figure of the process in thousands of bytes."""
    lines = Path(f"/proc/{pid}/{file}").read_text(encoding="ascii").splitlines()
    (value,) = (rest for key, _, rest in (line.partition(":") for line in lines) if key == name)
    return int(value.split()[0]) * 1.024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=5.0, help="for each figure; 3600 for a release")
    seconds = parser.parse_args().seconds
    for line in lines(seconds):
        sys.stdout.write(line + "\n")
        sys.stdout.flush()


def lines(seconds: float) -> Iterator[str]:
    yield f"Yardstick: a million additions in a Python loop take {1e3 * yardstick_s():.1f} ms here"
    for baudrate in AIMS:
        yield rtu_line(baudrate, seconds)
    with tempfile.TemporaryDirectory() as folder:
        yield tcp_line(Path(folder) / "polls", seconds)
        for transport in ("tcp", "rtu"):
            yield recorder_line(Path(folder) / transport / "recorder", 4 * seconds, transport)


if __name__ == "__main__":
    main()
