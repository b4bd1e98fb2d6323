"""`beadwatch report`: one A4 page of a joint, as PDF or straight to the printer."""

import shutil
import subprocess
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.dossiers import dossier_of
from logger.cli.places import default_store
from logger.domain.dossier import Dossier
from logger.errors import DeviceError
from logger.export.atomic import write_whole
from logger.export.curves import changeover_figure, joint_figure
from logger.export.packing import file_name
from logger.export.report_pdf import report_pdf
from logger.store.reader import Reader
from logger.wording.report_text import report_of
from logger.wording.seal_text import seal_text


def report(
    joint: Annotated[str, typer.Argument(metavar="JOINT", help="Joint number or id.")],
    store: Annotated[Path | None, typer.Option(help="The record.")] = None,
    attempt: Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")] = None,
    to: Annotated[
        Path | None, typer.Option(help="The PDF to write; named after the joint by default.")
    ] = None,
    printer: Annotated[bool, typer.Option("--print", help="Hand the page to the printing service.")] = False,
) -> None:
    """Print one joint on one page: curves over the plan, phases, findings, seal."""
    with Reader(store or default_store()) as reader:
        dossier = dossier_of(reader, reader.joint(joint, attempt=attempt))
    page = report_page(dossier)
    if printer:
        hand_to_printer(page, title=f"joint {joint}")
        return
    path = to or Path(f"{file_name(dossier)}.pdf")
    write_whole(path, page)
    out([str(path)])


def report_page(dossier: Dossier) -> bytes:
    """The page of one joint."""
    whole = joint_figure("Pressure and plate temperature over the plan", dossier.samples, dossier.judgement)
    changeover = changeover_figure("From the end of the soak to joining", whole)
    figures = [whole] if changeover is None else [whole, changeover]
    return report_pdf(report_of(dossier, figures, seal_text(dossier.seal, dossier.head)))


def hand_to_printer(page: bytes, title: str) -> None:
    """Send a PDF to the system's printing service. Raises DeviceError where none takes it."""
    command = shutil.which("lp")
    if command is None:
        raise DeviceError("no printing service on this machine (the command lp of CUPS): write a PDF instead")
    done = subprocess.run([command, "-t", title, "-"], input=page, capture_output=True, check=False)
    if done.returncode:
        raise DeviceError(
            f"the printing service refused the page: {done.stderr.decode(errors='replace').strip()}"
        )
