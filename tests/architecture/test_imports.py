"""The import contracts hold, and they cover every room."""

import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
CONFIG = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
CONTRACTS = CONFIG["tool"]["importlinter"]["contracts"]
THINKING = {"domain", "errors", "plan", "phases", "judge", "session"}
LIBRARIES = {
    "pint", "pydantic", "pymodbus", "serial", "apsw", "httpx", "typer", "lark", "fastapi",
    "asyncio", "sqlite3", "socket",
}  # fmt: skip


def test_every_contract_is_kept():
    linter = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", linter, "--no-cache"],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=100,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(CONTRACTS)} kept, 0 broken" in done.stdout


def test_the_floors_name_every_room_and_no_room_that_is_gone():
    (floors,) = [contract for contract in CONTRACTS if contract["type"] == "layers"]
    named = {room.strip() for layer in floors["layers"] for room in layer.split("|")}
    rooms = {path.name for path in (ROOT / "logger").iterdir() if (path / "__init__.py").exists()}
    rooms |= {path.stem for path in (ROOT / "logger").glob("*.py")} - {"__init__", "__main__"}
    assert named == rooms


def test_the_thinking_needs_no_library_and_no_edge():
    """Loaded in a fresh process: no input or output, no units library, no models, no bus."""
    probe = "import sys, logger.session.advance, logger.plan.compute; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, check=True, timeout=60
    )
    loaded = set(done.stdout.split())
    assert "logger.judge.judge" in loaded
    assert loaded.isdisjoint(LIBRARIES)
    assert {name.split(".")[1] for name in loaded if name.startswith("logger.")} <= THINKING
