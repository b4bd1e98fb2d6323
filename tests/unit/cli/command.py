"""The command as its entry point runs it, in this process: exit code, stdout and stderr."""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from logger.cli.main import main


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str


Command = Callable[..., Ran]


def command_of(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """A function that runs `beadwatch ARGUMENT...`."""

    def run(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["beadwatch", *map(str, arguments)])
        capsys.readouterr()
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
        captured = capsys.readouterr()
        return Ran(code, captured.out, captured.err)

    return run
