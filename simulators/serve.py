"""One simulated joint, served in scaled time from the moment somebody first asks."""

import asyncio
import json
import os
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass

from simulators.modbus_server import ModbusRig
from simulators.sensors import Reading, Sensors
from simulators.text_line import TextLineRig

_LINE_INTERVAL_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """What to serve on; `tcp` is (host, port), port 0 takes a free one."""

    tcp: tuple[str, int] | None = None
    rtu: bool = False
    line: bool = False


class ScaledRig:
    """The rig in simulated time: still at its start until the first `read`, then `time_scale` times real."""

    def __init__(self, sensors: Sensors, time_scale: float, now_s: Callable[[], float]) -> None:
        self._sensors = sensors
        self._time_scale = time_scale
        self._now_s = now_s
        self._started_s: float | None = None

    def read(self) -> Reading | None:
        """The reading of this moment; the first call starts the joint."""
        if self._started_s is None:
            self._started_s = self._now_s()
        return self._sensors.read((self._now_s() - self._started_s) * self._time_scale)


async def serve(sensors: Sensors, ports: Ports, time_scale: float, *, exit_with_stdin: bool = False) -> None:
    """Serve until SIGTERM, SIGINT, or the end of stdin where asked; print one JSON line when ready.

    Raises:
        OSError: a port cannot be opened.
    """
    loop = asyncio.get_running_loop()
    stopped = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stopped.set)
    if exit_with_stdin:
        loop.add_reader(sys.stdin.fileno(), _until_end, stopped)
    rig = ScaledRig(sensors, time_scale, loop.time)
    modbus = ModbusRig(rig.read)
    line = TextLineRig(rig.read) if ports.line else None
    try:
        tcp = await modbus.serve_tcp(*ports.tcp) if ports.tcp else None
        rtu = await modbus.serve_rtu() if ports.rtu else None
        scenario = sensors.trajectory.scenario
        ready = {
            "tcp": {"host": tcp[0], "port": tcp[1]} if tcp else None,
            "rtu": {"path": rtu} if rtu else None,
            "line": {"path": line.path} if line else None,
            "scenario": scenario.name,
            "check_valve": scenario.rig.check_valve,
            "time_scale": time_scale,
            "duration_s": sensors.trajectory.duration_s,
            "expected_verdict": scenario.expected_verdict,
            "expected_codes": list(scenario.expected_codes),
        }
        print(json.dumps(ready), flush=True)
        streaming = loop.create_task(line.stream(_LINE_INTERVAL_S / time_scale)) if line else None
        await stopped.wait()
        if streaming:
            streaming.cancel()
    finally:
        await modbus.close()
        if line:
            line.close()


def _until_end(stopped: asyncio.Event) -> None:
    if not os.read(sys.stdin.fileno(), 4096):
        asyncio.get_running_loop().remove_reader(sys.stdin.fileno())
        stopped.set()
