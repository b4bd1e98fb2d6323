"""The systemd units as systemd itself reads them, and the command lines in them as the command takes them."""

import os
import re
import shlex
import subprocess
from pathlib import Path

import pytest

from logger.cli.exit_codes import ExitCode
from tests.system.processes import ROOT, beadwatch

pytestmark = [pytest.mark.system, pytest.mark.needs("systemd", "systemd-analyze")]

FOLDER = ROOT / "configs" / "service"
UNITS = sorted(path.name for path in FOLDER.glob("*.service"))
MOST_EXPOSED = 2.5
"""On systemd's scale from 0 to 10 of what a service could do if it were taken over; 9.6 without a sandbox."""


def verified(folder: Path, name: str, text: str) -> str:
    """What `systemd-analyze verify` has to say; the program is one that is here."""
    unit = folder / name
    unit.write_text(text.replace("/usr/local/bin/beadwatch", "/bin/true"), encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", unit], capture_output=True, text=True, check=False, timeout=60
    )
    return done.stdout + done.stderr


@pytest.mark.parametrize("name", UNITS)
def test_systemd_has_nothing_to_say_against_a_unit(name: str, tmp_path: Path) -> None:
    text = (FOLDER / name).read_text(encoding="utf-8")
    assert verified(tmp_path, name, text) == ""
    assert "WatchdogSek" in verified(tmp_path, name, text.replace("[Service]", "[Service]\nWatchdogSek=30"))
    assert verified(tmp_path, name, text.replace("Restart=always", "Restart=allways")) != ""


@pytest.mark.parametrize("name", UNITS)
def test_a_unit_is_sandboxed(name: str) -> None:
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--no-pager", FOLDER / name],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )
    found = re.search(r"exposure level for \S+: (\d+\.\d+)", done.stdout)
    assert found is not None, done.stdout
    assert float(found.group(1)) <= MOST_EXPOSED


@pytest.mark.parametrize("name", UNITS)
def test_the_command_knows_what_a_unit_starts(name: str) -> None:
    (line,) = re.findall(r"(?m)^ExecStart=(.*)$", (FOLDER / name).read_text(encoding="utf-8"))
    program, *words = shlex.split(line)
    assert program == "/usr/local/bin/beadwatch"
    commands = [word for word in words if re.fullmatch("[a-z]+", word)]
    helped = beadwatch(*commands, "--help")
    assert helped.returncode == 0
    for option in (word for word in words if word.startswith("--")):
        assert option in helped.stdout, f"{option} of {line}"


def test_what_the_recorder_unit_reads_and_writes_is_in_the_folders_it_is_given() -> None:
    text = (FOLDER / "beadwatch.service").read_text(encoding="utf-8")
    for key, folder in (("State", "/var/lib"), ("Runtime", "/run"), ("Configuration", "/etc")):
        (name,) = re.findall(rf"(?m)^{key}Directory=(\S+)$", text)
        assert f" {folder}/{name}/" in text


@pytest.mark.parametrize("name", UNITS)
def test_what_a_new_start_cannot_mend_is_not_tried_again_and_all_else_is(name: str) -> None:
    text = (FOLDER / name).read_text(encoding="utf-8")
    (given_up,) = re.findall(r"(?m)^RestartPreventExitStatus=(.*)$", text)
    assert {int(code) for code in given_up.split()} == {ExitCode.USAGE, ExitCode.BAD_INPUT}
    assert re.search(r"(?m)^Restart=always$", text)
    assert re.search(r"(?m)^StartLimitIntervalSec=0$", text)


def test_the_kinds_of_ports_of_plugged_converters_are_known_before_the_recorder_starts() -> None:
    text = (FOLDER / "beadwatch.service").read_text(encoding="utf-8")
    allowed = set(re.findall(r"(?m)^DeviceAllow=char-(\S+) rw$", text))
    for kind, module in {"ttyUSB": "usbserial", "ttyACM": "cdc_acm"}.items():
        assert kind in allowed
        for key in ("Wants", "After"):
            assert re.search(rf"(?m)^{key}=.*\bmodprobe@{module}\.service\b", text)
