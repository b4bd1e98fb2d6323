"""A simulated rig on its ports: a whole joint in scaled time from the first question on, or its levers."""

import asyncio
import json
import os
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass

from simulators.levers import Levers
from simulators.modbus_server import ModbusRig
from simulators.scenario import Scenario
from simulators.sensors import Reading, Sensors
from simulators.tables import ScenarioError
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
    """Serve a joint until SIGTERM, SIGINT, or the end of stdin where asked; print one JSON line when ready.

    Raises:
        OSError: a port cannot be opened.
    """
    rig = ScaledRig(sensors, time_scale, asyncio.get_running_loop().time)
    scenario = sensors.trajectory.scenario
    about = {
        "scenario": scenario.name,
        "check_valve": scenario.rig.check_valve,
        "time_scale": time_scale,
        "duration_s": sensors.trajectory.duration_s,
        "expected_verdict": scenario.expected_verdict,
        "expected_codes": list(scenario.expected_codes),
    }
    stdin = _Stdin(lambda _line: None) if exit_with_stdin else None
    await _serve(rig.read, ports, about, _LINE_INTERVAL_S / time_scale, stdin)


async def serve_levers(scenario: Scenario, seed: int, ports: Ports) -> None:
    """Serve the rig alone in real time; each line of stdin moves its levers (`levers`), its end stops it.

    Raises:
        OSError: a port cannot be opened.
    """
    levers = Levers(scenario, seed, asyncio.get_running_loop().time)

    def do(line: str) -> None:
        try:
            levers.do(line)
        except ScenarioError as err:
            print(err, file=sys.stderr)

    await _serve(levers.read, ports, {"scenario": scenario.name}, _LINE_INTERVAL_S, _Stdin(do))


async def _serve(
    read: Callable[[], Reading | None],
    ports: Ports,
    about: dict[str, object],
    line_interval_s: float,
    stdin: "_Stdin | None",
) -> None:
    loop = asyncio.get_running_loop()
    stopped = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stopped.set)
    if stdin is not None:
        stdin.listen(stopped)
    modbus = ModbusRig(read)
    line = TextLineRig(read) if ports.line else None
    try:
        tcp = await modbus.serve_tcp(*ports.tcp) if ports.tcp else None
        rtu = await modbus.serve_rtu() if ports.rtu else None
        ready = {
            "tcp": {"host": tcp[0], "port": tcp[1]} if tcp else None,
            "rtu": {"path": rtu} if rtu else None,
            "line": {"path": line.path} if line else None,
        }
        print(json.dumps({**ready, **about}), flush=True)
        streaming = loop.create_task(line.stream(line_interval_s)) if line else None
        await stopped.wait()
        if streaming:
            streaming.cancel()
    finally:
        await modbus.close()
        if line:
            line.close()


class _Stdin:
    """Hands over stdin line by line; at its end all stops."""

    def __init__(self, take: Callable[[str], None]) -> None:
        self._take = take
        self._rest = b""

    def listen(self, stopped: asyncio.Event) -> None:
        asyncio.get_running_loop().add_reader(sys.stdin.fileno(), self._readable, stopped)

    def _readable(self, stopped: asyncio.Event) -> None:
        data = os.read(sys.stdin.fileno(), 4096)
        if not data:
            asyncio.get_running_loop().remove_reader(sys.stdin.fileno())
            stopped.set()
        *lines, self._rest = (self._rest + data).split(b"\n")
        for line in lines:
            if text := line.decode(errors="replace").strip():
                self._take(text)
