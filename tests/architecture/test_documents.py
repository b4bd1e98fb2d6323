"""The documents speak of every command, exit code and transition that there is."""

import re
from pathlib import Path

import pytest
import typer

from logger.cli.exit_codes import ExitCode
from logger.cli.main import application
from logger.phases.transitions import TRANSITIONS

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
DEVELOPERS = ROOT / "DEVELOPERS.md"
NO_PHASE = "preparation"


def commands_of(group: typer.Typer, prefix: str = "") -> list[str]:
    """Every command with its words, `joints list` included."""
    names = [
        prefix + (command.name or getattr(command.callback, "__name__", "").replace("_", "-"))
        for command in group.registered_commands
    ]
    for part in group.registered_groups:
        if part.typer_instance is not None:
            name = part.name if isinstance(part.name, str) else part.typer_instance.info.name
            names += commands_of(part.typer_instance, f"{prefix}{name} ")
    return names


def test_the_commands_were_found():
    assert {"plan", "judge", "run", "demo", "joints list"} <= set(commands_of(application([])))


@pytest.mark.skipif(not README.exists(), reason="there is no README.md yet")
@pytest.mark.parametrize("command", commands_of(application([])))
def test_the_readme_shows_every_command(command):
    assert f"beadwatch {command}" in README.read_text(encoding="utf-8")


@pytest.mark.skipif(not README.exists(), reason="there is no README.md yet")
def test_the_readme_lists_every_exit_code():
    rows = re.findall(r"^\| ([0-9, ]+) \|", README.read_text(encoding="utf-8"), re.MULTILINE)
    listed = {int(number) for row in rows for number in row.split(",")}
    assert listed == {int(code) for code in ExitCode}


@pytest.mark.skipif(not DEVELOPERS.exists(), reason="there is no DEVELOPERS.md yet")
@pytest.mark.parametrize("name", ["bead-up", "heat soak", "changeover", "pressure build-up", "cooling"])
def test_the_contributor_guide_defines_every_boundary(name):
    (paragraph,) = re.findall(
        r"\*\*Boundaries\*\*.*?\n\n", DEVELOPERS.read_text(encoding="utf-8"), flags=re.DOTALL
    )
    assert re.search(rf"{name} (starts |when |ends )", " ".join(paragraph.split()))


@pytest.mark.skipif(not DEVELOPERS.exists(), reason="there is no DEVELOPERS.md yet")
def test_the_drawn_transitions_are_the_table():
    drawn = set(
        re.findall(r"^(\w+) +--(\w+)--> (\w+)$", DEVELOPERS.read_text(encoding="utf-8"), re.MULTILINE)
    )
    table = {(before or NO_PHASE, cue, after or NO_PHASE) for (before, cue), after in TRANSITIONS.items()}
    assert {tuple(map(str, row)) for row in table} == drawn
