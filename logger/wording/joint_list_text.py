"""The list of joints in words: headings and a row for each."""

from logger.domain.particulars import Particulars
from logger.domain.record import JointRecord
from logger.domain.rig import Origin

JOINT_COLUMNS = (
    "joint", "attempt", "opened (UTC)", "verdict of curve", "ended", "origin", "operator", "place",
    "overdue calibration", "id",
)  # fmt: skip


def joint_label(record: JointRecord) -> str:
    """Name a joint where it stands among others: one that is no live joint says so."""
    origin, scale = record.header.origin, record.header.time_scale
    name = f"{record.number or f'(unnamed) {record.header.uuid[:8]}'}-{record.attempt}"
    if origin is Origin.LIVE and scale == 1.0:
        return name
    scaled = "" if scale == 1.0 else f" x{scale:g}"
    return f"{name} [{origin.replace('_', ' ')}{scaled}]"


def joint_cells(record: JointRecord, more: Particulars) -> tuple[str, ...]:
    """Return one row under `JOINT_COLUMNS`; the verdict is the original one of the recorded curve."""
    header = record.header
    scaled = f" x{header.time_scale:g}" if header.time_scale != 1.0 else ""
    return (
        record.number or "(unnamed)",
        str(record.attempt),
        header.opened.utc + ("" if header.opened.utc_verified else " unverified"),
        str(record.verdict or "-"),
        str(record.end.how if record.end else "open"),
        f"{header.origin}{scaled}",
        f"{header.operator or '-'}{f' ({more.operator_badge})' if more.operator_badge else ''}",
        more.place or "-",
        overdue_text(more) or "-",
        header.uuid[:8],
    )


def overdue_text(more: Particulars) -> str:
    """Name the sensors whose calibration was overdue when the joint was opened; empty where none was."""
    return ", ".join(name.replace("_", " ") for name in more.overdue)
