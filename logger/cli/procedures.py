"""`beadwatch procedures`: which procedures there are, and where each of their values comes from."""

from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.config.folders import procedure_folders
from logger.config.procedures import available_procedures, load_procedure
from logger.wording.procedure_text import procedure_lines, procedure_list_lines

app = typer.Typer(name="procedures", help="Look into the procedures.", no_args_is_help=True)


@app.command("list")
def list_procedures() -> None:
    """List the procedures: built-in ones, then those of the company's folders."""
    found = available_procedures(procedure_folders())
    out(procedure_list_lines(found.values()))
    for error in found.refused.values():
        say(f"refused: {error}")


@app.command()
def show(procedure: Annotated[str, typer.Argument(metavar="ID", help="Id of a procedure.")]) -> None:
    """List every value of a procedure with its source and mark."""
    out(procedure_lines(load_procedure(procedure, procedure_folders())))
