"""A simulated rig on its ports: a whole joint in scaled time from the first question on, or its levers."""

import asyncio
import json
import os
import signal
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from simulators.levers import Levers, Outage, Part
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


class Outlets:
    """The rig on its ports, of which plug and supply can be taken away for a while."""

    def __init__(self, read: Callable[[], Reading | None], ports: Ports, links: Path | None = None) -> None:
        """`links` is a folder in which serial lines get names that stay."""
        self._ports = ports
        self._links = links
        self._modbus = ModbusRig(read)
        self._line = TextLineRig(read, links and links / "line") if ports.line else None
        self._outages: dict[Part, asyncio.Task[None]] = {}
        self._streaming: asyncio.Task[None] | None = None

    async def open(self, line_interval_s: float) -> dict[str, object]:
        """Serve; returns where. Raises OSError where a port cannot be opened."""
        ports, links = self._ports, self._links
        tcp = await self._modbus.serve_tcp(*ports.tcp) if ports.tcp else None
        rtu = await self._modbus.serve_rtu(links and links / "rtu") if ports.rtu else None
        if self._line is not None:
            self._streaming = asyncio.create_task(self._line.stream(line_interval_s))
        return {
            "tcp": {"host": tcp[0], "port": tcp[1]} if tcp else None,
            "rtu": {"path": rtu} if rtu else None,
            "line": {"path": self._line.path} if self._line else None,
        }

    def begin(self, outage: Outage) -> None:
        """Take a part away for its time; of two words for the same part the later governs."""
        if (before := self._outages.get(outage.part)) is not None:
            before.cancel()
        self._outages[outage.part] = asyncio.create_task(self._out(outage))

    async def _out(self, outage: Outage) -> None:
        if outage.part is Part.SUPPLY:
            self._modbus.lose_power()
            await asyncio.sleep(outage.seconds)
            await self._modbus.restart()
            return
        ends = [self._line.end] if self._line else []
        for end in ends:
            end.unplug()
        await self._modbus.unplug()
        await asyncio.sleep(outage.seconds)
        for end in ends:
            end.plug()
        await self._modbus.plug()

    async def close(self) -> None:
        """Free all ports."""
        for task in (*self._outages.values(), *([self._streaming] if self._streaming else [])):
            task.cancel()
        await self._modbus.close()
        if self._line is not None:
            self._line.close()


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
    await _serve(Outlets(rig.read, ports), about, _LINE_INTERVAL_S / time_scale, stdin)


async def serve_levers(scenario: Scenario, seed: int, ports: Ports) -> None:
    """Serve the rig alone in real time; each line of stdin moves its levers (`levers`), its end stops it.

    Raises:
        OSError: a port cannot be opened.
    """
    levers = Levers(scenario, seed, asyncio.get_running_loop().time)
    with tempfile.TemporaryDirectory(prefix="rig-") as links:
        outlets = Outlets(levers.read, ports, Path(links))

        def do(line: str) -> None:
            try:
                outage = levers.do(line)
            except ScenarioError as err:
                print(err, file=sys.stderr)
                return
            if outage is not None:
                outlets.begin(outage)

        await _serve(outlets, {"scenario": scenario.name}, _LINE_INTERVAL_S, _Stdin(do))


async def _serve(
    outlets: Outlets, about: dict[str, object], line_interval_s: float, stdin: "_Stdin | None"
) -> None:
    loop = asyncio.get_running_loop()
    stopped = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stopped.set)
    try:
        ready = await outlets.open(line_interval_s)
        if stdin is not None:
            stdin.listen(stopped)
        print(json.dumps({**ready, **about}), flush=True)
        await stopped.wait()
    finally:
        await outlets.close()


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
