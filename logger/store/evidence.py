"""What the chain covers: the rows of each table in a fixed order, and the digests that stand for them.

Numbers that only this file gives to a row (`joint_id`, `run_id`, `event_id`) are left out, so that a joint
keeps its digests in another store. `configs/record-format.md` says the same for readers without this program.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import apsw

from logger.domain.sample import RawSample

Cell = int | float | str | None


@dataclass(frozen=True, slots=True)
class Table:
    """Which columns of a table are evidence, and which rows in which order. ?1 is the joint, ?2 the chain."""

    columns: str
    source: str


_RUN = (
    "run.boot_id, run.started_mono_ms, run.started_utc, run.utc_verified, run.software, run.time_scale, "
    "run.clock_source"
)
_EVENT = "kind, code, t_ms, mono_ms, utc, utc_verified, parameters"
_STATEMENT = Table(
    "seq, kind, author, reason, at_s, mono_ms, utc, utc_verified, body",
    "statement WHERE joint_uuid = ?1 AND chain = ?2 ORDER BY seq",
)

RECORDER_TABLES: dict[str, Table] = {
    "migration": Table("number, utc", "migration ORDER BY number"),
    "recorder_run": Table(_RUN, "recorder_run run ORDER BY run_id"),
    "recorder_run_end": Table("mono_ms, utc, utc_verified, reason", "recorder_run_end ORDER BY run_id"),
    "recorder_off": Table("from_utc, to_utc, reason", "recorder_off ORDER BY off_id"),
    "event": Table(_EVENT, "event WHERE joint_uuid IS NULL ORDER BY event_id"),
    "statement": _STATEMENT,
}
"""Evidence about no joint."""

JOINT_TABLES: dict[str, Table] = {
    "joint": Table(
        "uuid, number, project, attempt, previous_uuid, operator, rig_json, rig_toml, joint_toml, procedure, "
        "plan_json, origin, joint.time_scale, opened_mono_ms, opened_utc, joint.utc_verified, joint.boot_id, "
        + _RUN,
        "joint JOIN recorder_run run USING (run_id) WHERE uuid = ?1",
    ),
    "claim": Table(
        "number, project, attempt, previous_uuid, claimed_by, reason, mono_ms, utc, utc_verified",
        "claim WHERE joint_uuid = ?1",
    ),
    "event": Table(_EVENT, "event WHERE joint_uuid = ?1 ORDER BY event_id"),
    "joint_block": Table(
        "seq, first_ms, last_ms, sample_count, codec, sha256",
        "joint_block WHERE joint_uuid = ?1 ORDER BY seq",
    ),
    "phase": Table(
        "phase, start_s, end_s, start_u_s, end_u_s, start_reason, end_reason",
        "phase WHERE joint_uuid = ?1 ORDER BY phase",
    ),
    "finding": Table(
        'seq, code, severity, measured, "limit", unit, start_s, end_s, clause, standard_uncertainty',
        "finding WHERE joint_uuid = ?1 ORDER BY seq",
    ),
    "verdict": Table("verdict, reasons, decision_rule, judgement", "verdict WHERE joint_uuid = ?1"),
    "joint_end": Table(
        "how, reason, mono_ms, utc, joint_end.utc_verified, " + _RUN,
        "joint_end JOIN recorder_run run USING (run_id) WHERE joint_uuid = ?1",
    ),
    "statement": _STATEMENT,
}
"""Evidence about one joint, ?1."""


def tables_of(joint_uuid: str) -> dict[str, Table]:
    """Return the tables that hold evidence about a joint, or with the empty text about none."""
    return JOINT_TABLES if joint_uuid else RECORDER_TABLES


def rows_from(
    connection: apsw.Connection, table: str, joint_uuid: str, chain: str, first: int = 0
) -> list[tuple[Cell, ...]]:
    """Return the rows of a table about a joint, in the order of the chain, without the `first` ones."""
    of = tables_of(joint_uuid)[table]
    used = [value for name, value in (("?1", joint_uuid), ("?2", chain)) if name in of.source]
    query = f"SELECT {of.columns} FROM {of.source} LIMIT -1 OFFSET {first:d}"  # noqa: S608 - written above
    return list(connection.execute(query, used))


def digest_of(rows: Iterable[Sequence[Cell]]) -> str:
    """Return the SHA-256 of rows as canonical JSON, in hexadecimal; a whole number is no floating one."""
    text = canonical_json([list(row) for row in rows])
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def canonical_json(value: object) -> str:
    """Return the one text of a JSON value: keys sorted, nothing between the parts, no NaN."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def lines_of(samples: Iterable[RawSample]) -> Iterator[bytes]:
    """Yield the line that stands for each sample in the running hash: times and raw readings as text."""
    for sample in samples:
        readings = "".join([f" {reading.quantity}={reading.raw}" for reading in sample.readings])
        yield f"{sample.t_ms} {sample.half_width_ms}{readings}\n".encode("ascii")
