"""Real processes: the simulated rig, recorders against it, commands. All of them end with their context."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

from logger.cli.link import Link
from logger.domain.record import JointEnd, JointRecord
from logger.domain.sample import RawSample
from logger.store.reader import Reader
from logger.wire.live import StateMessage

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "configs" / "demo"
JOINT_FILE = DEMO / "joint.toml"
JOINT = "K-117"
TIME_SCALES = (20.0, 8.0, 3.0)
"""Times real time, tried in this order: a stall of the machine is a hole in the curve so many times as long.
A later one is used only when what the one before recorded was judged otherwise than expected and has such
holes."""
TIME_SCALE = TIME_SCALES[0]
STALL_MS = 250
"""A longer interval between two polls, 0.1 s by plan, is a hole."""
PATIENCE_S = 300.0
"""Longer than anything takes on a slow machine; a test that needs it has failed."""
POLL_S = 0.2


@contextmanager
def running(arguments: list[str], log: Path, **options: Any) -> Iterator["subprocess.Popen[str]"]:
    """`python ARGUMENTS` until the context ends, then told to stop, then killed; stderr goes into `log`."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT)}
    with log.open("a", encoding="utf-8") as stderr:
        process = subprocess.Popen(
            [sys.executable, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=stderr,
            text=True,
            env=environment,
            **options,
        )
    with process:
        try:
            yield process
        finally:
            process.send_signal(signal.SIGCONT)
            process.terminate()
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()


def beadwatch(*arguments: object) -> "subprocess.CompletedProcess[str]":
    """Run one command to its end."""
    return subprocess.run(
        [sys.executable, "-m", "logger", *map(str, arguments)],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )


def until(claim: Callable[[], bool], what: str, log: Path | None = None, every_s: float = POLL_S) -> None:
    """Wait for `claim`; fails with the end of `log` when it never comes true."""
    deadline_s = time.monotonic() + PATIENCE_S
    while not claim():
        if time.monotonic() > deadline_s:
            told = log.read_text(encoding="utf-8")[-2000:] if log else ""
            raise AssertionError(f"never happened: {what}\n{told}")
        time.sleep(every_s)


class Simulator:
    """A served rig; its joint begins with the first request it answers."""

    def __init__(self, process: "subprocess.Popen[str]", ready: dict[str, Any]) -> None:
        self._process = process
        self.ready = ready
        self.port = int(ready["tcp"]["port"])

    def pause(self) -> None:
        """Answer nothing, and do not begin, until `resume`: so that all recorders see the whole joint."""
        self._process.send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        self._process.send_signal(signal.SIGCONT)

    def bus(self, transport: str) -> str:
        """The bus table of a rig file, without its name."""
        if transport == "tcp":
            return tcp_bus(self.port)
        path = self.ready["rtu"]["path"]
        return f'kind = "modbus-rtu"\npath = "{path}"\nbaudrate = 115200\nworst_latency = "0.1 s"\n'


@contextmanager
def simulated(scenario: str, folder: Path, *, time_scale: float = TIME_SCALE) -> Iterator[Simulator]:
    arguments = ["-m", "simulators", "serve", scenario, "--tcp", "127.0.0.1:0", "--rtu"]
    arguments += ["--time-scale", str(time_scale), "--exit-with-stdin"]
    folder.mkdir(parents=True, exist_ok=True)
    log = folder / "simulator.log"
    with running(arguments, log) as process:
        assert process.stdout
        line = process.stdout.readline()
        assert line, log.read_text(encoding="utf-8")
        yield Simulator(process, json.loads(line))


@contextmanager
def levers(port: str, folder: Path) -> Iterator["tuple[subprocess.Popen[str], str, str]"]:
    """The simulated rig with its levers on "rtu" or "tcp", its bus table, and its line's name, "" for TCP."""
    served = ["--rtu"] if port == "rtu" else ["--tcp", "127.0.0.1:0"]
    log = folder / "simulator.log"
    with running(["-m", "simulators", "levers", "clean", *served], log) as process:
        assert process.stdout
        line = process.stdout.readline()
        assert line, log.read_text(encoding="utf-8")
        ready = json.loads(line)
        if port == "tcp":
            yield process, tcp_bus(ready["tcp"]["port"]), ""
        else:
            name = ready["rtu"]["path"]
            bus = f'kind = "modbus-rtu"\npath = "{name}"\nbaudrate = 115200\nworst_latency = "0.1 s"\n'
            yield process, bus, name


def tcp_bus(port: int) -> str:
    return f'kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = {port}\n'


def rig_text(bus: str, rate_hz: int = 10) -> str:
    """The demonstration's rig file on another bus."""
    text = (DEMO / "rig.toml").read_text(encoding="utf-8")
    text, count = re.subn(r"(?ms)^(\[bus\.rig\]\n).*?(?=^\[channel)", rf"\g<1>{bus}\n", text)
    assert count == 1
    return text.replace('rate = "10 Hz"', f'rate = "{rate_hz} Hz"')


class Recorder:
    """`beadwatch run` with a store and a socket of its own; can be killed and started again."""

    def __init__(self, folder: Path, bus: str, *, time_scale: float = TIME_SCALE, rate_hz: int = 10) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.store = folder / "record.db"
        self.socket = folder / "r.sock"
        self.rig_file = folder / "rig.toml"
        self.log = folder / "recorder.log"
        self.link: Link
        self.time_scale = time_scale
        self.rig_file.write_text(rig_text(bus, rate_hz), encoding="utf-8")

    @contextmanager
    def recording(self, joint_file: Path | None = JOINT_FILE) -> Iterator["subprocess.Popen[str]"]:
        """The process, from when its socket answers."""
        with running(self.arguments(joint_file), self.log) as process:
            until(lambda: process.poll() is not None or self.answers(), "the recorder answers", self.log)
            assert process.poll() is None, self.log.read_text(encoding="utf-8")
            with closing(Link(self.socket, timeout_s=30.0)) as self.link:
                yield process

    def arguments(self, joint_file: Path | None = None) -> list[str]:
        joint = ["--joint", str(joint_file)] if joint_file else []
        places = ["--store", str(self.store), "--socket", str(self.socket)]
        return [
            "-m",
            "logger",
            "run",
            str(self.rig_file),
            *joint,
            *places,
            "--time-scale",
            str(self.time_scale),
        ]

    def answers(self) -> bool:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
            return probe.connect_ex(str(self.socket)) == 0

    def state(self) -> StateMessage:
        return self.link.state()

    def until(
        self, claim: Callable[[StateMessage], bool], what: str, every_s: float = POLL_S
    ) -> StateMessage:
        """Wait until the state fulfils `claim`; return that state."""
        seen: list[StateMessage] = []

        def holds() -> bool:
            seen[:] = [self.state()]
            return claim(seen[0])

        try:
            until(holds, what, self.log, every_s)
        except AssertionError as error:
            error.add_note(str(seen))
            raise
        return seen[0]

    def until_phase(self, phase: str) -> StateMessage:
        return self.until(lambda state: state.phase == phase, f"the phase {phase}")

    def until_ended(self) -> StateMessage:
        """Ask rarely: each answer takes time off the sampling, and the time is scaled."""
        ended = self.until(lambda state: state.last_joint_uuid is not None, "the joint ends", every_s=1.0)
        assert ended.store.dropped == 0
        return ended

    def joint(self) -> JointRecord:
        """The joint opened last."""
        with Reader(self.store) as reader:
            return reader.list_joints()[0]

    def end(self) -> JointEnd:
        """How the joint opened last has ended."""
        end = self.joint().end
        assert end is not None
        return end

    def judgement(self) -> dict[str, Any]:
        """The stored judgement of the joint opened last."""
        text = self.joint().judgement_text
        assert text is not None
        return dict(json.loads(text))

    def samples(self) -> list[RawSample]:
        with Reader(self.store) as reader:
            return reader.samples(self.joint().header.uuid)

    def stored_s(self) -> float:
        """Up to when samples of the joint are on disk, on its own clock."""
        samples = self.samples()
        return samples[-1].t_ms / 1000 if samples else 0.0

    def off_reasons(self) -> list[str]:
        """Why the recorder was off, each time it was."""
        with Reader(self.store) as reader:
            return [off.reason for off in reader.recorder_off()]

    def event_codes(self) -> list[str]:
        with Reader(self.store) as reader:
            return [event.code for event in reader.events(self.joint().header.uuid)]


def has_stalled(samples: list[RawSample]) -> bool:
    """The machine could not keep up."""
    return any(after.t_ms - before.t_ms > STALL_MS for before, after in pairwise(samples))


def last_has_stalled(store: Path) -> bool:
    """The machine could not keep up while the latest joint of this record was made."""
    with Reader(store) as reader:
        return has_stalled(reader.samples(reader.list_joints()[0].header.uuid))


def codes_of(judgement: dict[str, Any], severity: str | None = None) -> set[str]:
    return {f["code"] for f in judgement["findings"] if severity in (None, f["severity"])}
