"""The built wheel in another place, under a path with spaces, far from the checkout."""

import os
import shutil
import site
import subprocess
import sys
import venv
from pathlib import Path

import pytest

from tests.system.demonstration import check_shown
from tests.system.processes import PATIENCE_S, ROOT, TIME_SCALES, last_has_stalled

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]


def run(*command: object, cwd: Path) -> "subprocess.CompletedProcess[str]":
    environment = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    return subprocess.run(
        list(map(str, command)),
        cwd=cwd,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )


def build_wheel(folder: Path) -> Path:
    """Build from a copy: building leaves its traces beside the sources. Nothing is downloaded."""
    source = folder / "source"
    for package in ("logger", "simulators", "configs"):
        shutil.copytree(ROOT / package, source / package, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source / name)
    built = run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, cwd=source)
    assert built.returncode == 0, built.stdout + built.stderr
    shutil.rmtree(source)
    (wheel,) = folder.glob("*.whl")
    return wheel


def installed(wheel: Path, folder: Path) -> Path:
    """Install beside this environment's libraries, without this checkout; return its command."""
    environment = folder / "far away" / "an environment"
    venv.create(environment, with_pip=False, symlinks=True)
    python = environment / "bin" / "python"
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", python]
    done = run(*pip, "install", "--no-deps", "--no-index", wheel, cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr
    packages = next((environment / "lib").glob("python*/site-packages"))
    (packages / "libraries.pth").write_text("\n".join(site.getsitepackages()), encoding="utf-8")
    return environment / "bin" / "beadwatch"


def test_an_installed_wheel_plans_and_demonstrates(tmp_path):
    command = installed(build_wheel(tmp_path), tmp_path)
    place = tmp_path / "work place"
    place.mkdir()
    where = run(command.with_name("python"), "-c", "import logger; print(logger.__file__)", cwd=place)
    assert where.stdout.startswith(str(tmp_path)), where.stderr

    joint = place / "joint.toml"
    shutil.copy(ROOT / "configs" / "examples" / "joint.toml", joint)
    planned = run(command, "plan", joint, "--json", cwd=place)
    assert planned.returncode == 0, planned.stderr
    here = run(sys.executable, "-m", "logger", "plan", joint, "--json", cwd=ROOT)
    assert planned.stdout == here.stdout

    for time_scale in TIME_SCALES:
        shown = run(command, "demo", "--time-scale", time_scale, cwd=place)
        if shown.returncode == 0 or not last_has_stalled(place / "demo-record" / "record.db"):
            break
    assert shown.returncode == 0, shown.stdout + shown.stderr
    check_shown(shown.stdout, "conforming", None, Path("demo-record") / "record.db")
