"""`beadwatch export`: joints in the form that QA needs, into a folder or onto a stick."""

from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.cli.dossiers import dossier_of
from logger.cli.places import default_store
from logger.cli.report import report_page
from logger.cli.selection import (
    FindingOption,
    OperatorOption,
    PipeOption,
    ProcedureOption,
    ProjectOption,
    RigOption,
    SinceOption,
    TextOption,
    UntilOption,
    VerdictOption,
    query_of,
    selected,
)
from logger.domain.dossier import Dossier
from logger.errors import InputError
from logger.export.manifest import ExportFolder
from logger.export.packing import ExportFormat, Made, joint_file, state_of, table_files
from logger.store.attachments import attached_to
from logger.store.reader import Reader


def export(
    to: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where to; made if it is not there.")],
    joints: Annotated[list[str] | None, typer.Argument(metavar="[JOINT]...", help="Numbers or ids.")] = None,
    form: Annotated[ExportFormat, typer.Option("--format", help="What to write.")] = ExportFormat.CSV,
    everything: Annotated[bool, typer.Option("--all", help="Every joint of the record.")] = False,
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    project: ProjectOption = "",
    operator: OperatorOption = "",
    rig: RigOption = "",
    pipe: PipeOption = "",
    procedure: ProcedureOption = "",
    verdict: VerdictOption = "",
    finding: FindingOption = "",
    text: TextOption = "",
    since: SinceOption = "",
    until: UntilOption = "",
) -> None:
    """Export joints; what the folder already holds unchanged is not written again, so it can be repeated.

    A folder on a stick gets everything new since last time, and an export that broke off goes on.
    """
    query = query_of(
        project=project,
        operator=operator,
        rig=rig,
        pipe=pipe,
        procedure=procedure,
        verdict=verdict,
        finding=finding,
        text=text,
        since=since,
        until=until,
    )
    path = store or default_store()
    records = selected(path, joints or [], query, everything=everything)
    if not records:
        raise InputError("no joint meets this: nothing to export")
    written = 0
    with Reader(path) as reader, ExportFolder(to) as folder:
        made = Made(
            page=report_page,
            sealed=lambda dossier: reader.sealed_joint(dossier.record.header.uuid),
            attached=lambda dossier: _attached(path, dossier),
        )
        dossiers = [dossier_of(reader, record, with_samples=False) for record in records]
        for record, dossier in zip(records, dossiers, strict=True):
            state = state_of(dossier, form)
            if record.end is not None and folder.holds(state):
                continue
            name, data = joint_file(dossier_of(reader, record), form, made)
            folder.put(name, data, joint=state)
            written += 1
        for name, data in table_files(dossiers, form):
            folder.put(name, data)
    say(f"{written} of {len(records)} joints written, {len(records) - written} were there already")
    out([str(to)])


def _attached(store: Path, dossier: Dossier) -> dict[str, bytes]:
    """Copies that are what was attached; another one, or none, is named and left out."""
    found = {}
    for one in attached_to(store, [dossier.record.header.uuid]):
        data = one.data()
        if data is None:
            say(f"joint {dossier.record.number}: the copy of {one.file} is gone or changed; it is left out")
        else:
            found[one.copy.name] = data
    return found
