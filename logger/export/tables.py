"""A joint as flat rows under fixed headings: what every table format writes."""

from collections.abc import Iterator, Sequence

from logger.domain.dossier import Dossier
from logger.domain.rig import overdue_of

Cell = str | float | int | bool | None
Row = tuple[Cell, ...]

JOINT_HEADINGS = (
    "uuid", "joint", "project", "attempt", "previous_uuid", "opened_utc", "utc_verified", "operator",
    "operator_badge", "place", "latitude_deg", "longitude_deg", "rig", "software", "overdue_calibrations",
    "origin", "time_scale", "procedure", "material", "outside_diameter_mm", "wall_mm", "drag_pressure_bar",
    "ambient_temperature_degC", "verdict_of_curve", "unverified_limits", "faults", "ended",
)  # fmt: skip
PHASE_HEADINGS = (
    "uuid", "joint", "attempt", "phase", "start_s", "start_u_s", "end_s", "end_u_s", "duration_s", "not_seen",
)  # fmt: skip
FINDING_HEADINGS = (
    "uuid", "joint", "attempt", "code", "severity", "measured", "limit", "unit", "start_s", "end_s",
    "standard_uncertainty", "clause",
)  # fmt: skip
STATEMENT_HEADINGS = ("uuid", "joint", "attempt", "seq", "kind", "author", "utc", "at_s", "reason", "body")
SAMPLE_HEADINGS = ("time_s", "pressure_bar", "plate_temperature_degC", "carriage_mm", "plate_in")


def joint_row(dossier: Dossier) -> Row:
    """One row under `JOINT_HEADINGS`; the verdict is the original one of the recorded curve."""
    record, judgement = dossier.record, dossier.judgement
    header, plan = record.header, judgement.plan if judgement else None
    joint = dossier.joint
    latitude_deg, longitude_deg = (joint.coordinates_deg if joint else None) or (None, None)
    overdue = overdue_of(dossier.rig, header.opened.utc)
    faults = sorted({f.code for f in judgement.findings if f.severity == "fault"}) if judgement else []
    return (
        header.uuid, record.number, record.project, record.attempt, record.previous_uuid, header.opened.utc,
        header.opened.utc_verified, header.operator,
        joint.operator_badge if joint else "",
        joint.place if joint else "",
        latitude_deg, longitude_deg, dossier.rig.name, record.run.software, " ".join(overdue),
        header.origin.value, header.time_scale, header.procedure,
        plan.material if plan else None,
        plan.outside_diameter_mm if plan else None,
        plan.wall_mm if plan else None,
        plan.drag_pressure_bar if plan else None,
        plan.ambient_temperature_degC if plan else None,
        record.verdict.value if record.verdict else None,
        judgement.unverified_limits if judgement else None,
        " ".join(faults),
        record.end.how.value if record.end else None,
    )  # fmt: skip


def phase_rows(dossier: Dossier) -> Iterator[Row]:
    """Rows under `PHASE_HEADINGS`, one for each phase."""
    for span in dossier.judgement.phases if dossier.judgement else ():
        missing = " ".join(filter(None, (span.start.reason, span.end.reason)))
        edges = (span.start.at_s, span.start.u_s, span.end.at_s, span.end.u_s, span.duration_s)
        yield (*_key(dossier), span.phase.value, *edges, missing)


def finding_rows(dossier: Dossier) -> Iterator[Row]:
    """Rows under `FINDING_HEADINGS`."""
    for f in dossier.judgement.findings if dossier.judgement else ():
        figures = (f.measured, f.limit, f.unit, f.start_s, f.end_s, f.standard_uncertainty)
        yield (*_key(dossier), f.code, f.severity.value, *figures, f.clause)


def statement_rows(dossier: Dossier) -> Iterator[Row]:
    """Rows under `STATEMENT_HEADINGS`; the body as `key: value` pairs."""
    for s in dossier.statements:
        body = "; ".join(f"{key}: {value}" for key, value in s.body.items())
        yield (*_key(dossier), s.seq, s.kind, s.author, s.at.utc, s.at_s, s.reason, body)


def sample_rows(dossier: Dossier) -> Iterator[Row]:
    """Rows under `SAMPLE_HEADINGS`, in order of time; None where a channel has no usable reading."""
    for s in dossier.samples:
        plate_in = None if s.plate_in is None else int(s.plate_in)
        yield (s.t_s, s.pressure_bar, s.plate_temperature_degC, s.carriage_mm, plate_in)


def sheets_of(dossiers: Sequence[Dossier]) -> dict[str, tuple[tuple[str, ...], list[Row]]]:
    """Headings and rows of everything but the samples, by the name of the table."""
    return {
        "joints": (JOINT_HEADINGS, [joint_row(d) for d in dossiers]),
        "phases": (PHASE_HEADINGS, [row for d in dossiers for row in phase_rows(d)]),
        "findings": (FINDING_HEADINGS, [row for d in dossiers for row in finding_rows(d)]),
        "statements": (STATEMENT_HEADINGS, [row for d in dossiers for row in statement_rows(d)]),
    }


def _key(dossier: Dossier) -> Row:
    return (dossier.record.header.uuid, dossier.record.number, dossier.record.attempt)
