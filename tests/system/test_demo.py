"""`beadwatch demo` where nobody looks at a terminal; the clean joint is shown from the installed wheel."""

import shlex
from pathlib import Path

import pytest

from tests.system.demonstration import check_shown
from tests.system.processes import TIME_SCALES, beadwatch, last_has_stalled

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]


def demonstrate(scenario: str, record: Path) -> str:
    """What the demonstration printed; asks for exit code 0."""
    for time_scale in TIME_SCALES:
        arguments = ["--scenario", scenario, "--record", record, "--time-scale", time_scale]
        done = beadwatch("demo", *arguments)
        if done.returncode == 0 or not last_has_stalled(record / "record.db"):
            break
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_a_nonconforming_joint_that_was_expected_is_success(tmp_path):
    store = tmp_path / "record" / "record.db"
    printed = demonstrate("slow-changeover", store.parent)
    command = check_shown(printed, "NOT conforming", "FAULT  Changeover took too long", store)
    shown = beadwatch(*shlex.split(command)[1:])
    assert shown.returncode == 0, shown.stderr
    assert "NOT conforming" in shown.stdout


def test_an_unknown_scenario_is_bad_input_and_names_the_nearest(tmp_path):
    done = beadwatch("demo", "--scenario", "slow-changover", "--record", tmp_path)
    assert done.returncode == 3
    assert done.stdout == ""
    assert "slow-changeover" in done.stderr
    assert len(done.stderr.splitlines()) == 1
