"""`beadwatch demo`: a rig in software, the recorder against it, one whole joint."""

import json
import os
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from importlib import resources
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Annotated, Any

import typer

from logger.cli.console import out, say
from logger.cli.exit_codes import ExitCode
from logger.cli.link import Link
from logger.cli.monitor import Voice, beside_monitor
from logger.domain.judgement import Judgement
from logger.domain.phase import Phase
from logger.errors import DeviceError, InputError
from logger.store.reader import Reader
from logger.wire.judgement import judgement_from_json
from logger.wire.live import StateMessage
from logger.wire.plan import plan_from_json
from logger.wording.judgement_text import judgement_lines
from logger.wording.plan_text import band_text, duration_text

START_S = 60.0
POLL_S = 0.1
SLACK = 3.0
"""The joint is given up when it takes this many times as long as its scenario."""


def demo(
    scenario: Annotated[str, typer.Option(help="Which joint: clean, slow-changeover, ...")] = "clean",
    record: Annotated[Path, typer.Option(help="Folder for the record.")] = Path("demo-record"),
    bus: Annotated[str, typer.Option(help="How the rig is wired: tcp or rtu.")] = "tcp",
    time_scale: Annotated[float, typer.Option(min=1.0, max=50.0, help="Times real time.")] = 10.0,
    no_monitor: Annotated[
        bool, typer.Option("--no-monitor", help="Print lines on a terminal too, without the monitor.")
    ] = False,
) -> None:
    """Make one joint on a simulated rig: every phase as it begins, findings, verdict, record."""
    if bus not in ("tcp", "rtu"):
        raise InputError(f'"{bus}" is no wiring; choose tcp or rtu', key="--bus")
    record.mkdir(parents=True, exist_ok=True)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="beadwatch-")))
        rig = stack.enter_context(_simulator(scenario, time_scale))
        say(f"simulated rig: Modbus TCP on port {rig['tcp']['port']}, Modbus RTU on {rig['rtu']['path']}")
        (folder / "rig.toml").write_text(_rig_text(rig, bus), encoding="utf-8")
        (folder / "joint.toml").write_text(_shipped("joint.toml"), encoding="utf-8")
        store = record / "record.db"
        socket = stack.enter_context(_recorder(folder, store, time_scale))
        link = stack.enter_context(closing(Link(socket)))
        voice = Voice()
        if not no_monitor and all(stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
            voice = stack.enter_context(beside_monitor(socket))
        uuid = _follow(link, store, rig["duration_s"] / time_scale * SLACK, voice)
    _conclude(store, uuid, rig)


def _shipped(name: str) -> str:
    return (resources.files("configs") / "demo" / name).read_text(encoding="utf-8")


def _rig_text(rig: dict[str, Any], bus: str) -> str:
    """The demonstration's rig file with the port of this simulator."""
    tcp = 'kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1502\n'
    text = _shipped("rig.toml")
    if tcp not in text:
        raise InputError("the bus table of the demonstration's rig file is not as expected")
    if rig["check_valve"]:
        text = f"check_valve = true\n{text}"
    if bus == "tcp":
        return text.replace(tcp, tcp.replace("1502", str(rig["tcp"]["port"])))
    # A pseudo-terminal carries bytes at once; the baud rate only satisfies the check of the rates.
    rtu = f'kind = "modbus-rtu"\npath = "{rig["rtu"]["path"]}"\nbaudrate = 115200\nworst_latency = "0.1 s"\n'
    return text.replace(tcp, rtu)


@contextmanager
def _simulator(scenario: str, time_scale: float) -> Iterator[dict[str, Any]]:
    command = ["-m", "simulators", "serve", scenario, "--tcp", "127.0.0.1:0", "--rtu"]
    with TemporaryFile("w+") as log, _process([*command, "--time-scale", str(time_scale)], log) as process:
        line = _first_line(process)
        if not line:
            process.wait()
            message = _said(log)
            raise InputError(message.splitlines()[-1] if message else "the simulator did not start")
        yield json.loads(line)


@contextmanager
def _recorder(folder: Path, store: Path, time_scale: float) -> Iterator[Path]:
    socket = folder / "recorder.sock"
    command = ["-m", "logger", "run", str(folder / "rig.toml"), "--joint", str(folder / "joint.toml")]
    options = ["--store", str(store), "--socket", str(socket), "--time-scale", str(time_scale)]
    with TemporaryFile("w+") as log, _process([*command, *options], log) as process:
        deadline_s = time.monotonic() + START_S
        while not socket.exists() or not _answers(socket):
            if process.poll() is not None:
                raise DeviceError(f"the recorder did not start: {_said(log)}")
            if time.monotonic() > deadline_s:
                raise DeviceError("the recorder did not start in time")
            time.sleep(POLL_S)
        yield socket


def _answers(socket: Path) -> bool:
    with closing(Link(socket)) as link:
        try:
            link.state()
        except DeviceError:
            return False
    return True


@contextmanager
def _process(arguments: list[str], log: IO[str]) -> Iterator["subprocess.Popen[str]"]:
    """Run a program of ours; what it narrates goes to a file, since nobody drains a pipe meanwhile."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, *arguments],
        stdout=subprocess.PIPE,
        stderr=log,
        stdin=subprocess.DEVNULL,
        text=True,
        env=environment,
    ) as process:
        try:
            yield process
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()


def _command() -> str:
    """How to call the command from here: by name, or where its environment is not on the path, by place."""
    if shutil.which("beadwatch"):
        return "beadwatch"
    own = Path(sys.executable).parent / "beadwatch"
    here = Path.cwd()
    shown = own.relative_to(here) if own.is_relative_to(here) else own
    return shlex.quote(str(shown))


def _said(log: IO[str]) -> str:
    log.seek(0)
    return log.read().strip()


def _first_line(process: "subprocess.Popen[str]") -> str:
    stream: IO[str] | None = process.stdout
    return stream.readline() if stream else ""


def _follow(link: Link, store: Path, limit_s: float, voice: Voice) -> str:
    """Print each phase as it begins with its planned values; return the id of the joint when it has ended."""
    seen = 0
    deadline_s = time.monotonic() + limit_s
    uuid: str | None = None
    while time.monotonic() < deadline_s:
        state = link.state(seen)
        if uuid is None and state.joint_uuid:
            uuid = state.joint_uuid
            scale = f"{state.time_scale:g} times real time"
            voice.say(f"joint {state.joint}, attempt {state.attempt}: simulated, {scale}")
        for event in state.events:
            seen = event.seq
            voice.out([f"{event.at_s:8.1f} s  {event.text}{_beside(event.code, state, store)}"])
        if uuid is not None and state.last_joint_uuid == uuid:
            return uuid
        time.sleep(POLL_S)
    raise DeviceError("the joint did not end in time")


def _beside(code: str, state: StateMessage, store: Path) -> str:
    """What is measured now and what the plan asks, beside a phase that begins."""
    name = code.removeprefix("phase.")
    if name not in set(Phase) or not state.joint_uuid:
        return ""
    with Reader(store) as reader:
        text = reader.joint(state.joint_uuid).header.plan_json
    if text is None:
        return ""
    step = plan_from_json(text).step_of(Phase(name))
    measured = next((c.value for c in state.channels if c.quantity == "pressure"), None)
    now = "no reading" if measured is None else f"{measured:.2f} bar"
    gauge = band_text(step.gauge_pressure_bar, "bar", float, 2)
    return f": gauge {now}, plan {gauge}; time plan {duration_text(step.duration_s)}"


def _conclude(store: Path, uuid: str, rig: dict[str, Any]) -> None:
    with Reader(store) as reader:
        record = reader.joint(uuid)
        sample_count = len(reader.samples(uuid))
    judgement: Judgement = judgement_from_json(record.judgement_text or "", str(store))
    out(["", *judgement_lines(judgement), ""])
    out([f"Record: {store}, joint {record.number} attempt {record.attempt}, {sample_count} samples"])
    out([f"Next:   {_command()} joints show {record.number} --store {shlex.quote(str(store))}"])
    codes = {finding.code for finding in judgement.findings}
    expected = set(rig["expected_codes"])
    if judgement.verdict != rig["expected_verdict"] or not expected <= codes:
        say(f"expected {rig['expected_verdict']} with {sorted(expected)}")
        say(f"got {judgement.verdict} with {sorted(codes)}")
        raise typer.Exit(ExitCode.UNEXPECTED_VERDICT)
