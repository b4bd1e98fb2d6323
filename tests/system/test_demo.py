"""`beadwatch demo` where nobody looks at a terminal."""

import shlex
from pathlib import Path

import pytest

from logger.store.reader import Reader
from tests.system.processes import TIME_SCALES, beadwatch, has_stalled

pytestmark = [pytest.mark.system, pytest.mark.timeout(500)]

PHASES = ("bead-up", "heat soak", "changeover", "pressure build-up", "cooling")


def demonstrate(scenario: str, record: Path) -> str:
    """What the demonstration printed; asks for exit code 0."""
    for time_scale in TIME_SCALES:
        arguments = ["--scenario", scenario, "--record", record, "--time-scale", time_scale]
        done = beadwatch("demo", *arguments)
        if done.returncode == 0 or not last_has_stalled(record / "record.db"):
            break
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def last_has_stalled(store: Path) -> bool:
    with Reader(store) as reader:
        return has_stalled(reader.samples(reader.list_joints()[0].header.uuid))


@pytest.mark.parametrize(
    ("scenario", "verdict"), [("clean", "conforming"), ("slow-changeover", "NOT conforming")]
)
def test_the_demonstration_shows_the_whole_joint(scenario, verdict, tmp_path):
    printed = demonstrate(scenario, tmp_path / "record")
    lines = printed.splitlines()
    begins = [next(k for k, line in enumerate(lines) if f"  {phase} begins" in line) for phase in PHASES]
    assert begins == sorted(begins)
    assert all("gauge" in lines[k] and "plan" in lines[k] for k in begins)
    assert f"verdict of the recorded curve: {verdict}\n" in printed
    assert ("Findings: none" in lines) == (scenario == "clean")
    assert ("Changeover took too long" in printed.split("Findings")[1].split("Curve")[0]) == (
        scenario != "clean"
    )
    assert f"Record: {tmp_path / 'record' / 'record.db'}" in printed
    command = next(line for line in lines if line.startswith("Next:")).removeprefix("Next:")
    shown = beadwatch(*shlex.split(command)[1:])
    assert shown.returncode == 0, shown.stderr
    assert verdict in shown.stdout


def test_an_unknown_scenario_is_bad_input_and_names_the_nearest(tmp_path):
    done = beadwatch("demo", "--scenario", "slow-changover", "--record", tmp_path)
    assert done.returncode == 3
    assert done.stdout == ""
    assert "slow-changeover" in done.stderr
    assert len(done.stderr.splitlines()) == 1
