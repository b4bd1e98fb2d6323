"""Which files an export consists of, for each format."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.domain.dossier import Dossier
from logger.export.bundle import bundle_of
from logger.export.joint_json import joint_json
from logger.export.table_files import csv_file, parquet_file, xlsx_file
from logger.export.tables import SAMPLE_HEADINGS, sample_rows, sheets_of


class ExportFormat(StrEnum):
    """What is written for each joint; CSV and Parquet have tables over all of them beside the curves."""

    CSV = "csv"
    JSON = "json"
    XLSX = "xlsx"
    PARQUET = "parquet"
    PDF = "pdf"
    BUNDLE = "bundle"
    """A zip that stands by itself: sealed joint, curve, report, and what verifies it."""


@dataclass(frozen=True, slots=True)
class Made:
    """What other rooms make of a joint: the page of its report, its sealed form in one line."""

    page: Callable[[Dossier], bytes]
    sealed: Callable[[Dossier], str]
    attached: Callable[[Dossier], Mapping[str, bytes]] = lambda dossier: {}
    """Copies of attached files by name."""


def joint_file(dossier: Dossier, form: ExportFormat, made: Made) -> tuple[str, bytes]:
    """The file of one joint: name and content."""
    name = file_name(dossier)
    match form:
        case ExportFormat.CSV:
            return f"{name}.csv", csv_file(SAMPLE_HEADINGS, sample_rows(dossier))
        case ExportFormat.JSON:
            return f"{name}.json", joint_json(dossier)
        case ExportFormat.XLSX:
            sheets = {**sheets_of([dossier]), "samples": (SAMPLE_HEADINGS, list(sample_rows(dossier)))}
            return f"{name}.xlsx", xlsx_file(sheets)
        case ExportFormat.PARQUET:
            about = {"uuid": dossier.record.header.uuid, "joint": dossier.record.number or ""}
            return f"{name}.parquet", parquet_file(SAMPLE_HEADINGS, list(sample_rows(dossier)), about)
        case ExportFormat.PDF:
            return f"{name}.pdf", made.page(dossier)
        case ExportFormat.BUNDLE:
            files = {
                f"{name}.sealed.json": made.sealed(dossier).encode(),
                f"{name}.csv": csv_file(SAMPLE_HEADINGS, sample_rows(dossier)),
                f"{name}.pdf": made.page(dossier),
                **{f"attachments/{copy}": data for copy, data in made.attached(dossier).items()},
            }
            return f"{name}.zip", bundle_of(files)


def table_files(dossiers: Sequence[Dossier], form: ExportFormat) -> Iterator[tuple[str, bytes]]:
    """The tables over all joints of an export: none for the formats that hold each joint whole."""
    if form not in (ExportFormat.CSV, ExportFormat.PARQUET):
        return
    for name, (headings, rows) in sheets_of(dossiers).items():
        if form is ExportFormat.CSV:
            yield f"{name}.csv", csv_file(headings, rows)
        else:
            yield f"{name}.parquet", parquet_file(headings, rows, {})


def state_of(dossier: Dossier, form: ExportFormat) -> str:
    """Name the joint in the state it is in: what was said of it later makes another export of it."""
    ended = dossier.record.end.how.value if dossier.record.end else "open"
    return f"{form} {dossier.record.header.uuid} {ended} {len(dossier.statements)}"


def file_name(dossier: Dossier) -> str:
    """Tells the joint, made of plain characters; the id keeps equal numbers of two projects apart."""
    record = dossier.record
    return f"{plain_name(record.number or 'unnamed')}-{record.attempt}-{record.header.uuid[:8]}"


def plain_name(text: str) -> str:
    """Letters, digits, hyphen, full stop and underscore, none of them hiding the file."""
    return "".join(c if c.isalnum() or c in "-_." else "_" for c in text).strip(".")
