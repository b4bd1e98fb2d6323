"""`beadwatch report`: a joint on one A4 page, or a project, as PDF or straight to the printer."""

import shutil
import subprocess
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.dossiers import dossier_of
from logger.cli.places import default_store
from logger.cli.selection import selected
from logger.domain.dossier import Dossier
from logger.domain.joint_query import JointQuery
from logger.errors import DeviceError, InputError
from logger.export.atomic import write_whole
from logger.export.curves import changeover_figure, joint_figure
from logger.export.packing import file_name, plain_name
from logger.export.project_pdf import project_pdf
from logger.export.report_pdf import report_pdf
from logger.judge.project_checks import alike, missing_numbers, without_dip
from logger.store.reader import Reader
from logger.wording.project_text import Conspicuous, joint_name, project_report_of
from logger.wording.report_text import report_of
from logger.wording.seal_text import seal_text


def report(
    joint: Annotated[str, typer.Argument(metavar="[JOINT]", help="Joint number or id.")] = "",
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    attempt: Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")] = None,
    project: Annotated[str | None, typer.Option(help="All joints of this project instead of one.")] = None,
    to: Annotated[
        Path | None, typer.Option(help="The PDF to write; named after the joint by default.")
    ] = None,
    printer: Annotated[bool, typer.Option("--print", help="Hand the page to the printing service.")] = False,
) -> None:
    """Print one joint on one page, or a project with statistics and what is missing."""
    path = store or default_store()
    if bool(joint) == (project is not None):
        raise InputError("say which: a JOINT, or --project NAME")
    if project is not None:
        page, name = _project_page(path, project), f"project-{project or 'without-name'}"
    else:
        with Reader(path) as reader:
            dossier = dossier_of(reader, reader.joint(joint, attempt=attempt))
        page, name = report_page(dossier), file_name(dossier)
    if printer:
        hand_to_printer(page, title=name)
        return
    target = to or Path(f"{plain_name(name)}.pdf")
    write_whole(target, page)
    out([str(target)])


def _project_page(store: Path, project: str) -> bytes:
    records = selected(store, [], JointQuery(project=project, limit=None), everything=not project)
    if not records:
        raise InputError(f"no joint of project {project}", key="--project")
    with Reader(store) as reader:
        dossiers = [dossier_of(reader, record, with_samples=False) for record in records]
        head = reader.chain_head()
        days = [record.header.opened.utc for record in records]
        recorder_off = [
            off for off in reader.recorder_off() if off.to_utc >= min(days) and off.from_utc <= max(days)
        ]
    judgements = {joint_name(d): d.judgement for d in dossiers if d.judgement}
    conspicuous = Conspicuous(
        missing=missing_numbers(d.record.number for d in dossiers if d.record.number),
        alike=alike(judgements),
        without_dip=without_dip(judgements),
        recorder_off=recorder_off,
    )
    seal = () if head is None else (f"Chain head of the record when this was printed: {head}",)
    return project_pdf(project_report_of(project, dossiers, conspicuous, seal))


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
