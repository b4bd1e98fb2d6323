"""`beadwatch procedures`: which procedures there are, and where each of their values comes from."""

import hashlib
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.cli.hand import hand_of
from logger.cli.live import SocketOption
from logger.config.folders import procedure_folders
from logger.config.procedures import available_procedures, load_procedure
from logger.errors import InputError
from logger.wire.afterwards import FiguresCommand
from logger.wire.model import command_of
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


@app.command()
def confirm(
    procedure: Annotated[str, typer.Argument(metavar="ID", help="Id of a procedure.")],
    document: Annotated[str, typer.Option(help="Which copy: title, edition, where it lies.")],
    by: Annotated[str, typer.Option(help="Who held the figures against it.")],
    copy: Annotated[Path | None, typer.Option(help="That copy as a file: its hash goes on record.")] = None,
    reason: Annotated[str, typer.Option(help="What else is to be said of it.")] = "",
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    socket: SocketOption = None,
) -> None:
    """Put on record that all figures of a procedure were held against one's own copy of the document.

    Verdicts that rest on figures from memory then say who vouches for them. It holds for this very file of
    the procedure and no other; look at all of them first: `beadwatch procedures show ID`.
    """
    known = load_procedure(procedure, procedure_folders())
    try:
        digest = None if copy is None else hashlib.sha256(copy.read_bytes()).hexdigest()
    except OSError as error:
        raise InputError(error.strerror or str(error), file=str(copy)) from error
    command = command_of(
        FiguresCommand,
        procedure=known.id, digest=known.digest, document=document, copy_sha256=digest, by=by, reason=reason,
    )  # fmt: skip
    with hand_of(store, socket) as hand:
        hand.confirm_figures(command)
    out([f"{known.id} ({known.digest[:16]}...): figures confirmed by {by} against {document}"])
