"""One joint's report as values, worded already: what the page is drawn from."""

from dataclasses import dataclass

from logger.domain.figure import Figure
from logger.domain.sheet import SheetRow


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportTable:
    """Rows under headings; `shares` are the columns' parts of the width."""

    headings: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointReport:
    """One page. `banner` is printed across it, empty where nothing has to be said so loudly.

    `verdict` is the one word of the recorded curve; `lines` are the three that an inspector asks for.
    `witness` is what the code in the corner holds, empty while the record is not sealed.
    """

    title: str
    subtitle: str
    banner: str
    verdict: str
    lines: tuple[SheetRow, ...]
    facts: tuple[SheetRow, ...]
    figures: tuple[Figure, ...]
    phases: ReportTable
    findings: tuple[str, ...]
    said: tuple[str, ...]
    notes: tuple[str, ...]
    seal: tuple[str, ...]
    witness: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectReport:
    """Pages over many joints: tables with their headings, notices, then every joint in one line."""

    title: str
    subtitle: str
    banner: str
    tables: tuple[tuple[str, ReportTable], ...]
    notices: tuple[str, ...]
    joints: ReportTable
    seal: tuple[str, ...]
