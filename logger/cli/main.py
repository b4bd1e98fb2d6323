"""The command `beadwatch`: parsing, dispatch, and errors to exit codes."""

import logging
import sys
from typing import Annotated

import typer

from logger import __version__
from logger.cli.check import check
from logger.cli.console import out, say
from logger.cli.demo import demo
from logger.cli.exit_codes import ExitCode, exit_code_for
from logger.cli.export import export
from logger.cli.imports import backup, restore
from logger.cli.init import init
from logger.cli.joints import app as joints_app
from logger.cli.judge import judge
from logger.cli.keys import app as keys_app
from logger.cli.live import abort, bead, drag, start, state
from logger.cli.monitor import monitor
from logger.cli.plan import plan
from logger.cli.ports import ports
from logger.cli.probe import probe
from logger.cli.procedures import app as procedures_app
from logger.cli.rejudge import rejudge
from logger.cli.report import report
from logger.cli.run import run
from logger.cli.scan import scan
from logger.cli.trend import trend
from logger.errors import BeadwatchError, ProcedureRefusal
from logger.wording.refusals import refusal_text

app = typer.Typer(
    name="beadwatch",
    help="Recorder for hydraulic butt-fusion rigs. It reads and judges; it never drives the rig.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command()(plan)
app.command()(judge)
app.command()(run)
app.command()(start)
app.command()(abort)
app.command()(drag)
app.command()(bead)
app.command()(state)
app.command()(monitor)
app.command()(rejudge)
app.command()(demo)
app.command()(report)
app.command()(export)
app.command()(trend)
app.command()(ports)
app.command()(scan)
app.command()(probe)
app.command()(check)
app.command()(init)
app.command()(backup)
app.command()(restore)
app.add_typer(joints_app)
app.add_typer(procedures_app)
app.add_typer(keys_app)


def _show_version(wanted: bool) -> None:
    if wanted:
        out([__version__])
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Options of the command itself."""


def main() -> None:
    """Run the command; every error raised on purpose becomes one line and its exit code."""
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    try:
        app()
    except BeadwatchError as error:
        text = refusal_text(error) if isinstance(error, ProcedureRefusal) else str(error)
        say(f"beadwatch: {text}")
        sys.exit(exit_code_for(error))
    except BrokenPipeError:
        sys.exit(ExitCode.OK)
    except Exception:
        logging.getLogger(__name__).exception("this is a defect of Beadwatch")
        sys.exit(ExitCode.INTERNAL)
