"""The command `beadwatch`: parsing, dispatch, and errors to exit codes."""

import logging
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

from logger import __version__
from logger.cli.barred import barred_record_text
from logger.cli.console import out, say
from logger.cli.exit_codes import ExitCode, exit_code_for
from logger.cli.journal import graded, is_journal, start_logging
from logger.errors import BeadwatchError, ProcedureRefusal
from logger.wording.refusals import refusal_text

COMMANDS = {
    "plan": "plan",
    "judge": "judge",
    "run": "run",
    "start": "live",
    "abort": "live",
    "drag": "live",
    "bead": "live",
    "state": "live",
    "status": "status",
    "monitor": "monitor",
    "rejudge": "rejudge",
    "demo": "demo",
    "report": "report",
    "export": "export",
    "trend": "trend",
    "ports": "ports",
    "scan": "scan",
    "probe": "probe",
    "check": "check",
    "init": "init",
    "calibrate": "calibrate",
    "commission": "commission",
    "backup": "imports",
    "restore": "imports",
}
"""Which module of this room has the function of the same name."""
GROUPS = {"joints": "joints", "procedures": "procedures", "key": "keys", "forward": "forward"}
"""Which module has the commands below this word."""


def application(words: Sequence[str]) -> typer.Typer:
    """Build the command line for these words: of the one command they name, or of all of them.

    The recorder runs for weeks: it does not carry what draws pages and writes workbooks.
    """
    app = typer.Typer(
        name="beadwatch",
        help="Recorder for hydraulic butt-fusion rigs. It reads and judges; it never drives the rig.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    named = next((word for word in words if not word.startswith("-")), "")
    known = named in COMMANDS or named in GROUPS
    for command, module in COMMANDS.items():
        if command == named or not known:
            app.command(command)(getattr(import_module(f"logger.cli.{module}"), command))
    for group, module in GROUPS.items():
        if group == named or not known:
            app.add_typer(import_module(f"logger.cli.{module}").app)
    app.callback()(options)
    return app


def _show_version(wanted: bool) -> None:
    if wanted:
        out([__version__])
        raise typer.Exit


def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Options of the command itself."""


def main() -> None:
    """Run the command; every error raised on purpose becomes one line and its exit code."""
    start_logging()
    try:
        application(sys.argv[1:])()
    except BeadwatchError as error:
        text = refusal_text(error) if isinstance(error, ProcedureRefusal) else str(error)
        text = barred_record_text(error) or text
        line = f"beadwatch: {text}"
        say(graded(line, logging.ERROR) if is_journal() else line)
        sys.exit(exit_code_for(error))
    except BrokenPipeError:
        sys.exit(ExitCode.OK)
    except Exception:
        logging.getLogger(__name__).exception("this is a defect of Beadwatch")
        sys.exit(ExitCode.INTERNAL)
