"""`beadwatch joints`: what is in the record."""

import json as json_text
from collections.abc import Iterator, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.annotate import attach, correct
from logger.cli.console import out, out_text
from logger.cli.curve import curve
from logger.cli.dossiers import confirmations_of
from logger.cli.hand import hand_of
from logger.cli.imports import import_joints
from logger.cli.places import default_store
from logger.cli.seals import head, verify
from logger.cli.selection import (
    VERDICTS,
    FindingOption,
    OperatorOption,
    OriginOption,
    PipeOption,
    ProcedureOption,
    ProjectOption,
    RigOption,
    SinceOption,
    TextOption,
    UntilOption,
    VerdictOption,
    query_of,
)
from logger.daemon.particulars import particulars_of
from logger.domain.joint_query import JointGroup, JointOrder
from logger.domain.record import JointRecord
from logger.export.table_files import csv_file
from logger.export.tables import Cell
from logger.store.reader import Reader
from logger.store.search import count_joints, find_joints
from logger.wire.judgement import judgement_from_json
from logger.wire.live import ClaimCommand
from logger.wording.events import ORIGIN_NOTES
from logger.wording.joint_list_text import JOINT_COLUMNS, joint_cells, overdue_text
from logger.wording.judgement_text import judgement_lines
from logger.wording.said_text import said_lines
from logger.wording.seal_text import seal_text

app = typer.Typer(name="joints", help="Look into the record.", no_args_is_help=True)
app.command()(verify)
app.command()(head)
app.command("import")(import_joints)

StoreOption = Annotated[Path | None, typer.Option(help="The record.", readable=False)]
AttemptOption = Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")]
JointArgument = Annotated[str, typer.Argument(metavar="JOINT", help="Joint number or id.")]


class ListForm(StrEnum):
    TABLE = "table"
    JSON = "json"
    CSV = "csv"


@app.command("list")
def list_joints(
    store: StoreOption = None,
    project: ProjectOption = "",
    operator: OperatorOption = "",
    rig: RigOption = "",
    pipe: PipeOption = "",
    procedure: ProcedureOption = "",
    verdict: VerdictOption = "",
    finding: FindingOption = "",
    origin: OriginOption = "",
    text: TextOption = "",
    since: SinceOption = "",
    until: UntilOption = "",
    sort: Annotated[
        JointOrder, typer.Option(help="By what; the last opened come first.")
    ] = JointOrder.OPENED,
    limit: Annotated[int, typer.Option(min=1, help="At most this many.")] = 100,
    form: Annotated[
        ListForm, typer.Option("--format", help="Columns to read, JSON lines or CSV.")
    ] = ListForm.TABLE,
    json: Annotated[bool, typer.Option("--json", help="One JSON object per line.")] = False,
) -> None:
    """List the joints that meet every filter."""
    query = query_of(
        project=project,
        operator=operator,
        rig=rig,
        pipe=pipe,
        procedure=procedure,
        verdict=verdict,
        finding=finding,
        origin=origin,
        text=text,
        since=since,
        until=until,
        order=sort,
        limit=limit,
    )
    records = find_joints(store or default_store(), query)
    if json or form is ListForm.JSON:
        out(json_text.dumps(_summary(record), ensure_ascii=False) for record in records)
    elif form is ListForm.CSV:
        rows = [tuple(_summary(record).values()) for record in records]
        headings = tuple(_summary(records[0])) if records else ()
        out_text(csv_file(headings, rows).decode())
    else:
        out(_columns([JOINT_COLUMNS, *(joint_cells(record, particulars_of(record)) for record in records)]))


@app.command()
def count(
    by: Annotated[JointGroup, typer.Option(help="Counted for each of these.")] = JointGroup.PROJECT,
    store: StoreOption = None,
    project: ProjectOption = "",
    operator: OperatorOption = "",
    rig: RigOption = "",
    finding: FindingOption = "",
    origin: OriginOption = "",
    since: SinceOption = "",
    until: UntilOption = "",
    json: Annotated[bool, typer.Option("--json", help="One JSON object per group.")] = False,
) -> None:
    """Count the joints of each verdict."""
    query = query_of(
        project=project, operator=operator, rig=rig, finding=finding, origin=origin, since=since, until=until
    )
    counted = count_joints(store or default_store(), query, by)
    if json:
        out(json_text.dumps({by: group, **counts}, ensure_ascii=False) for group, counts in counted)
        return
    rows = [
        (group or "-", *(str(counts.get(verdict, 0)) for verdict in VERDICTS)) for group, counts in counted
    ]
    out(_columns([(by, *VERDICTS), *rows]))


def _columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


@app.command()
def show(
    joint: JointArgument,
    store: StoreOption = None,
    attempt: AttemptOption = None,
    json: Annotated[bool, typer.Option("--json", help="The stored judgement, byte for byte.")] = False,
) -> None:
    """Show one joint with its stored judgement."""
    with Reader(store or default_store()) as reader:
        record = reader.joint(joint, attempt=attempt)
        if json:
            out_text(record.judgement_text or "null\n")
            return
        uuid = record.header.uuid
        out([*_header_lines(record), f"  {seal_text(reader.seal_of(uuid), head=None).lines[0]}"])
        if record.judgement_text is None:
            out(["Still open: no judgement yet."])
        else:
            judgement = judgement_from_json(record.judgement_text)
            confirmations = confirmations_of(reader, judgement)
            out(judgement_lines(judgement, reader.statements_of(uuid), confirmations=confirmations))
        out(f"Said: {line}" for line in said_lines(reader.statements_of(uuid)))
        events = reader.events(uuid)
    out(["Events", *(f"  {(e.t_ms or 0) / 1000:9.2f} s  {e.kind} {e.code}" for e in events)])


@app.command()
def claim(
    joint: Annotated[str, typer.Argument(metavar="ID", help="Id of the joint without a name.")],
    number: Annotated[str, typer.Option(help="The number it should have had.")],
    by: Annotated[str, typer.Option(help="Who claims it.")],
    reason: Annotated[str, typer.Option(help="Why it was made without a joint open.")],
    project: Annotated[str, typer.Option(help="Its project.")] = "",
    store: StoreOption = None,
    socket: Annotated[
        Path | None, typer.Option(help="The running recorder's local socket.", readable=False)
    ] = None,
) -> None:
    """Name a joint that was recorded without one."""
    with Reader(store or default_store()) as reader:
        joint = reader.joint(joint).header.uuid  # A list shows the beginning of it.
    command = ClaimCommand(joint_uuid=joint, number=number, project=project, claimed_by=by, reason=reason)
    with hand_of(store, socket) as hand:
        out([f"{number} attempt {hand.claim(command).attempt}"])


app.command()(curve)
app.command()(correct)
app.command()(attach)


def _summary(record: JointRecord) -> dict[str, Cell]:
    header, more = record.header, particulars_of(record)
    latitude_deg, longitude_deg = more.coordinates_deg or (None, None)
    return {
        "joint": record.number,
        "project": record.project,
        "attempt": record.attempt,
        "uuid": header.uuid,
        "previous_uuid": record.previous_uuid,
        "opened_utc": header.opened.utc,
        "utc_verified": header.opened.utc_verified,
        "procedure": header.procedure,
        "operator": header.operator,
        "operator_badge": more.operator_badge,
        "place": more.place,
        "latitude_deg": latitude_deg,
        "longitude_deg": longitude_deg,
        "rig": more.rig,
        "software": more.software,
        "overdue_calibrations": " ".join(more.overdue),
        "verdict_of_curve": record.verdict,
        "ended": record.end.how if record.end else None,
        "origin": header.origin,
        "time_scale": header.time_scale,
    }


def _header_lines(record: JointRecord) -> list[str]:
    header = record.header
    verified = "" if header.opened.utc_verified else " (clock not verified)"
    more = particulars_of(record)
    badge = f", badge {more.operator_badge}" if more.operator_badge else ""
    lines = [
        f"Joint {record.number or '(unnamed)'}, attempt {record.attempt}, id {header.uuid}",
        f"  project {record.project or '-'}, operator {header.operator or '-'}{badge}, "
        f"place {more.place or '-'}",
        f"  procedure {header.procedure or '-'}, opened {header.opened.utc}{verified}",
        f"  origin {header.origin} {ORIGIN_NOTES[header.origin]}".rstrip(),
        "  contact force not observed beyond gauge pressure and carriage travel",
        f"  software {record.run.software}, clock {record.run.clock_source}, "
        f"configuration {header.config_sha256[:16]}",
    ]
    if more.overdue:
        lines.append(f"  CALIBRATION OVERDUE when it was opened: {overdue_text(more)}")
    if record.previous_uuid:
        lines.append(f"  follows attempt {record.attempt - 1}, id {record.previous_uuid}")
    if record.end:
        lines.append(f"  {record.end.how}{f' ({record.end.reason})' if record.end.reason else ''}")
    return lines
