"""A master that somebody else wrote reads our simulated rig: mbpoll, on TCP and on a pty."""

import json
import re
import subprocess
from collections.abc import Iterator

import pytest

from tests.system.processes import running

pytestmark = [pytest.mark.system, pytest.mark.needs("mbpoll", "mbpoll")]


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict]:
    log = tmp_path_factory.mktemp("simulator") / "log"
    with running(["-m", "simulators", "serve", "clean", "--rtu", "--tcp", "127.0.0.1:0"], log) as process:
        assert process.stdout
        yield json.loads(process.stdout.readline())


@pytest.fixture(params=["tcp", "rtu"])
def target(request: pytest.FixtureRequest, rig: dict) -> list[str]:
    if request.param == "tcp":
        return ["-m", "tcp", "-p", str(rig["tcp"]["port"]), "127.0.0.1"]
    return ["-m", "rtu", "-b", "115200", "-P", "none", rig["rtu"]["path"]]


def polled(target: list[str], kind: str, address: int, count: int) -> list[str]:
    """What mbpoll prints behind each `[address]:`."""
    *options, where = target
    command = ["mbpoll", *options, "-a", "1", "-0", "-1", "-B", "-o", "5", "-t", kind]
    command += ["-r", str(address), "-c", str(count), where]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return re.findall(r"^\[\d+\]:\s+(\S+)", done.stdout, flags=re.MULTILINE)


@pytest.mark.parametrize("table", ["3", "4"])
def test_registers_and_floats_say_the_same(target: list[str], table: str) -> None:
    """The float at 12 is the plate's temperature whose counts, 0.1 degC each, are in register 1."""
    pressure, plate, *_ = (int(text) for text in polled(target, table, 0, 4))
    (shown,) = polled(target, f"{table}:float", 12, 1)
    assert 6000 < pressure < 32000
    assert float(shown) == pytest.approx(plate / 10, abs=5.0), "some time lies between the two"
    assert 150 < float(shown) < 260


def test_single_bits_are_served(target: list[str]) -> None:
    assert set(polled(target, "1", 0, 4)) <= {"0", "1"}


def test_a_write_is_refused(rig: dict, target: list[str]) -> None:
    *options, where = target
    command = ["mbpoll", *options, "-a", "1", "-0", "-1", "-o", "5", "-t", "4", "-r", "0", where, "1234"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert "Illegal function" in done.stdout + done.stderr
    assert polled(target, "4", 0, 1) != ["1234"]
