"""Fixtures shared by the rooms: simulated joints as trace files, each simulated once per test process."""

import os
import shutil
import socket
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

RATE_HZ = 10.0
FULL_SIZE = bool(os.environ.get("BEADWATCH_FULL_SIZE"))
"""Set for a release: draws and exhaustive searches then run in the size that the guide names."""
REQUIRE_SYSTEM = "BEADWATCH_REQUIRE_SYSTEM"
"""Set where every system package is installed: a test that misses one then fails instead of being skipped."""


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "needs(package, *programs): a system package, known by its programs")


def pytest_runtest_setup(item: pytest.Item) -> None:
    for mark in item.iter_markers("needs"):
        package, *programs = mark.args
        missing = [
            program for program in programs if shutil.which(program) is None and not Path(program).exists()
        ]
        if missing:
            reason = f"the system package {package} is not installed ({', '.join(missing)} missing)"
            if os.environ.get(REQUIRE_SYSTEM):
                pytest.fail(reason, pytrace=False)
            pytest.skip(reason)


@pytest.fixture(scope="session")
def trace_of_scenario(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Give the trace CSV of a shipped scenario at 10 Hz with every channel; NAME.truth.csv lies beside it."""
    from simulators.rig import simulate
    from simulators.scenario import load_scenario
    from simulators.sensors import Sensors
    from simulators.trace import write_trace

    folder = tmp_path_factory.mktemp("traces")

    def trace(name: str) -> Path:
        path = folder / f"{name}.csv"
        if not path.exists():
            write_trace(path, Sensors(simulate(load_scenario(name)), seed=1), RATE_HZ)
        return path

    return trace


@pytest.fixture(scope="session")
def demo_joint_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The joint of the demonstration with the cylinder area that its rig file gives."""
    from importlib.resources import files

    text = (files("configs") / "demo" / "joint.toml").read_text(encoding="utf-8")
    path = tmp_path_factory.mktemp("joint") / "joint.toml"
    path.write_text(text + '\n[rig]\ncylinder_area = "6.29 cm2"\n', encoding="utf-8")
    return path


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that everybody may enter, its path short enough for a socket: those of pytest are neither."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


@pytest.fixture
def left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A socket file that nobody listens on any more; its path is relative, so short."""
    monkeypatch.chdir(tmp_path)
    path = Path("r.sock")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as gone:
        gone.bind(str(path))
    return path
