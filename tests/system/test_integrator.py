"""The README's path of an integrator from nothing, with the simulator's pty and line as unknown devices."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.system.processes import Recorder, beadwatch, running, tcp_bus
from tests.unit.cli.command import command_of

pytestmark = pytest.mark.system


class Unknown:
    """A simulated rig of which only the ports are known."""

    def __init__(self, ready: dict) -> None:
        self.rtu = ready["rtu"]["path"]
        self.line = ready["line"]["path"]
        self.tcp = f"{ready['tcp']['host']}:{ready['tcp']['port']}"


@pytest.fixture(scope="module")
def unknown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Unknown]:
    log = tmp_path_factory.mktemp("simulator") / "log"
    arguments = ["-m", "simulators", "serve", "clean", "--rtu", "--line", "--tcp", "127.0.0.1:0"]
    with running(arguments, log) as process:
        assert process.stdout
        yield Unknown(json.loads(process.stdout.readline()))


def lines_of(*arguments: object, code: int = 0) -> list[str]:
    done = beadwatch(*arguments)
    assert done.returncode == code, done.stdout + done.stderr
    return done.stdout.splitlines()


def test_from_an_unknown_line_to_a_checked_rig(unknown: Unknown, tmp_path: Path) -> None:
    """Scan, probe, init, check --live: each hands on what the next one needs."""
    found, *_, following = lines_of("scan", unknown.rtu, "--units", "1-3")
    assert re.match(r"unit 1 +19200 Bd 8E1 +answered in .* ms, has holding registers", found)
    words = following.removeprefix("next: beadwatch ").split()
    assert words[:6] == ["probe", unknown.rtu, "--unit", "1", "--table", "holding"]

    shown = lines_of(*words, "--address", "12", "--count", "2", "--expect", "219")
    matched = re.findall(r'table = "(\w+)", address = (\d+), type = "(\w+)", word_order = "(\w+)"', shown[-1])
    assert matched == [("holding", "12", "float32", "ABCD")], "\n".join(shown)
    counts = lines_of(*words, "--count", "2")
    assert re.match(r" +0 +40001 +[0-9A-F]{4} +[67]\d{3} ", counts[2]), "6400 counts are 4 mA"

    rig_file = tmp_path / "rig.toml"
    answers = {
        "origin": "simulated",
        "path": unknown.rtu,
        "cylinder_area": "6.29 cm2",
        "pressure.raw": "6400, 32000",
        "pressure.signal": "4-20 mA",
        "pressure.uncertainty": "0.4 bar",
        "plate_temperature.address": "12",
        "plate_temperature.type": "float32",
        "plate_temperature.tolerance_class": "K-2",
    }
    given = [part for key, value in answers.items() for part in ("--set", f"{key}={value}")]
    assert lines_of("init", rig_file, "--yes", *given) == [str(rig_file)]

    report = "\n".join(lines_of("check", rig_file, "--live", "--seconds", "3"))
    assert "rig (19200 Bd 8E1): 26.4 % of the bus time" in report
    assert re.search(r"rig: \d\d polls answered, 0 failed", report)
    assert re.search(r"pressure: .* bar, \d+\.\d\d Hz of 10", report)
    assert re.search(r"plate_temperature: 2[12]\d(\.\d)? degC", report)
    limits = report.partition("Shortest limits")[2]
    assert re.search(r"Hz measured and \S+ bar of noise and ripple the guard .* its edge of \S+ bar", limits)
    assert "NOT ENOUGH; enough from dn" in limits, "this rig is too large for the smallest pipe there is"


def test_a_tcp_device_is_found_behind_its_address(unknown: Unknown) -> None:
    found = lines_of("scan", unknown.tcp, "--units", "1", "--timeout", "1")
    assert found[0].startswith("unit 1  answered in ")
    assert found[-1] == f"next: beadwatch probe {unknown.tcp} --unit 1 --table holding"


def test_a_text_device_shows_its_lines(unknown: Unknown) -> None:
    shown = lines_of("probe", unknown.line, "--text", "--timeout", "2")
    assert any(re.fullmatch(r"'P= +\d+\.\d\d T=\d+\.\d X= *\d+\.\d\d I=\d\\r\\n'", line) for line in shown)


def test_a_printed_number_is_translated(unknown: Unknown) -> None:
    by_number = lines_of("probe", unknown.tcp, "--reference", "30003", "--count", "1")
    assert by_number[2].split()[:2] == ["2", "30003"]


def test_a_device_that_refuses_says_so(unknown: Unknown) -> None:
    refused = beadwatch("probe", unknown.tcp, "--address", "5000")
    assert refused.returncode == 5
    assert "illegal data address" in refused.stderr


def test_nothing_is_asked_while_a_joint_is_recorded(
    unknown: Unknown, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    run = command_of(capsys, monkeypatch)
    who = ["--by", "Ines Falk"]
    recorder = Recorder(tmp_path, tcp_bus(int(unknown.tcp.rpartition(":")[2])), time_scale=1.0)
    with recorder.recording():
        for command in (
            ["scan", unknown.rtu],
            ["probe", unknown.rtu],
            ["check", recorder.rig_file, "--live", "--seconds", "1"],
            ["calibrate", recorder.rig_file, "pressure", *who, "--reference=G", "--reference-uncertainty=1"],
            ["commission", recorder.rig_file, *who],
        ):
            refused = run(*command, "--socket", recorder.socket)
            assert refused.code == 5
            assert "K-117 is being recorded on simulated rig" in refused.err


def test_a_rig_that_is_silent_fails_the_live_check(tmp_path: Path) -> None:
    rig_file = tmp_path / "rig.toml"
    lines_of("init", rig_file, "--yes", "--set", "path=/dev/not-there", "--set", "plate_temperature=no")
    checked = beadwatch("check", rig_file, "--live", "--seconds", "1")
    assert checked.returncode == 5
    assert re.search(r"\d+ x rig \(/dev/not-there\): cannot open", checked.stdout)
    assert "pressure: only 0 usable samples, NOT ENOUGH" in checked.stdout
