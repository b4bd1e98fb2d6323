"""`scan` and `probe` that are under way give way to a recorder: the bus and the joint are its own."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.system.processes import JOINT_FILE, Recorder, levers, running, until

pytestmark = pytest.mark.system

UNITS = "2-247"
"""Nobody has these: a question a unit and nothing but silence, for minutes."""

RIG = "simulated rig"
BEGUN = "holding register, 19200 Bd"


@contextmanager
def under_way(words: list[str], log: Path, begun: str) -> Iterator["subprocess.Popen[str]"]:
    """A command that has said so much."""
    with running(["-m", "logger", *words], log) as process:
        until(lambda: begun in log.read_text(encoding="utf-8"), f"it says {begun!r}", log, every_s=0.05)
        yield process


def end_of(process: "subprocess.Popen[str]", log: Path) -> str:
    """Its last line, once it has ended by itself as it should."""
    until(lambda: process.poll() is not None, "the command gives way", log)
    assert process.returncode == 5
    return log.read_text(encoding="utf-8").splitlines()[-1]


def test_a_scan_leaves_its_line_to_a_recorder_that_is_started(tmp_path: Path) -> None:
    log = tmp_path / "scan.log"
    with levers("rtu", tmp_path) as (_process, bus, name):
        recorder = Recorder(tmp_path, bus, time_scale=1.0)
        words = ["scan", name, "--units", UNITS, "--socket", str(recorder.socket)]
        with under_way(words, log, BEGUN) as scan, recorder.recording(joint_file=None):
            told = end_of(scan, log)
            recorder.until(lambda state: all(c.state == "present" for c in state.channels), "it has the line")
    assert (
        told == "beadwatch: a recorder was started for simulated rig: scan has stopped, to leave it the bus"
    )


def test_a_scan_and_a_probe_stop_when_a_joint_is_opened(tmp_path: Path) -> None:
    """Of another bus than the recorder's, which was there before them."""
    scan_log, probe_log = tmp_path / "scan.log", tmp_path / "probe.log"
    with levers("rtu", tmp_path) as (_process, _bus, name), levers("tcp", tmp_path) as (_other, bus, _):
        recorder = Recorder(tmp_path, bus, time_scale=1.0)
        place = ["--socket", str(recorder.socket)]
        port = bus.rpartition("= ")[2].strip()
        with (
            recorder.recording(joint_file=None),
            under_way(["scan", name, "--units", UNITS, *place], scan_log, BEGUN) as scan,
            running(["-m", "logger", "probe", f"127.0.0.1:{port}", "--live", *place], probe_log) as probe,
        ):
            assert probe.stdout
            assert "answered in" in probe.stdout.readline()
            recorder.link.start(JOINT_FILE.read_text(encoding="utf-8"), str(JOINT_FILE))
            told = [end_of(scan, scan_log), end_of(probe, probe_log)]
            recorder.link.abort("seen enough")
    assert told == [
        f"beadwatch: K-117 is being recorded on {RIG}: {w} has stopped" for w in ("scan", "probe")
    ]
