"""Rows to domain values, for the reader and for the writer when it seals."""

import json
from collections.abc import Iterator, Sequence
from typing import Any

import apsw

from logger.domain.judgement import Verdict
from logger.domain.record import (
    Claim,
    EventKind,
    HowEnded,
    JointEnd,
    JointHeader,
    JointRecord,
    RecorderRun,
    RecordEvent,
    Stamp,
    Statement,
)
from logger.domain.rig import Origin
from logger.domain.sample import RawSample
from logger.errors import StoreError
from logger.store import block

_RECORD = """
SELECT joint.uuid, joint.number, joint.project, operator, rig_json, rig_toml, joint_toml, procedure,
    plan_json, origin, joint.time_scale, opened_mono_ms, opened_utc, joint.utc_verified, joint.boot_id,
    identity.number, identity.project, identity.attempt, identity.previous_uuid,
    claim.number, claim.project, claim.claimed_by, claim.reason, claim.mono_ms, claim.utc, claim.utc_verified,
    how, joint_end.reason, joint_end.mono_ms, joint_end.utc, joint_end.utc_verified,
    verdict.verdict, verdict.judgement, run.boot_id, run.software, run.time_scale, run.clock_source,
    run.started_mono_ms, run.started_utc, run.utc_verified
FROM joint JOIN identity ON identity.uuid = joint.uuid JOIN recorder_run run ON run.run_id = joint.run_id
    LEFT JOIN claim ON claim.joint_uuid = joint.uuid
    LEFT JOIN joint_end ON joint_end.joint_uuid = joint.uuid
    LEFT JOIN verdict ON verdict.joint_uuid = joint.uuid
"""


def records_where(
    connection: apsw.Connection, clause: str, bindings: Sequence[str | int | None] = ()
) -> Iterator[JointRecord]:
    """Yield the joints that meet an SQL clause written in this package."""
    for row in connection.execute(_RECORD + clause, tuple(bindings)):
        yield _record_of(row)


def open_uuids(connection: apsw.Connection) -> set[str]:
    """Return the joints without an end."""
    found = connection.execute("SELECT uuid FROM joint WHERE uuid NOT IN (SELECT joint_uuid FROM joint_end)")
    return {str(uuid) for (uuid,) in found}


def is_joint(connection: apsw.Connection, joint_uuid: str) -> bool:
    return connection.execute("SELECT 1 FROM joint WHERE uuid = ?", (joint_uuid,)).fetchone() is not None


def chain_of(connection: apsw.Connection) -> str:
    """Return the name of this record, drawn when its file was made."""
    return str(connection.execute("SELECT chain FROM chain").get)


def next_journal_seqs(connection: apsw.Connection) -> dict[str, int]:
    """Return the number of the next batch by joint; a joint without a batch is absent."""
    found = connection.execute("SELECT joint_uuid, max(seq) + 1 FROM journal GROUP BY joint_uuid")
    return {str(joint_uuid): int(seq) for joint_uuid, seq in found}


def next_event_id(connection: apsw.Connection) -> int:
    return int(connection.execute("SELECT coalesce(max(event_id), 0) + 1 FROM event").get)


def end_of(connection: apsw.Connection, joint_uuid: str) -> JointEnd | None:
    row = connection.execute(
        "SELECT how, reason, mono_ms, utc, utc_verified FROM joint_end WHERE joint_uuid = ?", (joint_uuid,)
    ).fetchone()
    return None if row is None else _end_of(row)


def journal_samples(connection: apsw.Connection, joint_uuid: str) -> Iterator[RawSample]:
    """Yield the samples of an open joint. Raises StoreError when a batch is damaged."""
    rows = connection.execute(
        "SELECT codec, data FROM journal WHERE joint_uuid = ? ORDER BY seq", (joint_uuid,)
    )
    for codec, data in rows:
        _check_codec(codec)
        yield from block.decode(data)


def block_samples(connection: apsw.Connection, joint_uuid: str) -> list[RawSample]:
    """Return the samples of a sealed joint. Raises StoreError when a block does not meet its hash."""
    return [sample for canonical in blocks_of(connection, joint_uuid) for sample in block.decode(canonical)]


def blocks_of(connection: apsw.Connection, joint_uuid: str) -> Iterator[bytes]:
    """Yield the canonical bytes of a sealed joint. Raises StoreError when they do not meet their hash."""
    rows = connection.execute(
        "SELECT seq, codec, sha256, data FROM joint_block WHERE joint_uuid = ? ORDER BY seq", (joint_uuid,)
    )
    for seq, codec, sha256, data in rows:
        canonical = block.decompress(data)
        if block.sha256_of(canonical) != sha256:
            raise StoreError(f"joint {joint_uuid}, block {seq}: the samples do not meet their hash")
        _check_codec(codec)
        yield canonical


def events_of(connection: apsw.Connection, joint_uuid: str | None) -> list[RecordEvent]:
    """Return the events of a joint, or with None those of no joint, in the order they were stored."""
    rows = connection.execute(
        "SELECT kind, code, mono_ms, utc, utc_verified, t_ms, parameters FROM event WHERE joint_uuid IS ? "
        "ORDER BY event_id",
        (joint_uuid,),
    )
    return [
        RecordEvent(
            kind=EventKind(kind),
            code=code,
            at=optional_stamp(mono_ms, utc, utc_verified),
            t_ms=t_ms,
            parameters=json.loads(parameters),
        )
        for kind, code, mono_ms, utc, utc_verified, t_ms, parameters in rows
    ]


def statements_of(connection: apsw.Connection, joint_uuid: str | None) -> list[Statement]:
    """Return the statements about a joint, or with None those about no joint, as they were stored."""
    rows = connection.execute(
        "SELECT seq, chain, kind, author, reason, at_s, body, mono_ms, utc, utc_verified FROM statement "
        "WHERE joint_uuid = ? ORDER BY rowid",
        (joint_uuid or "",),
    )
    return [
        Statement(
            joint_uuid=joint_uuid,
            seq=seq,
            chain=chain,
            kind=kind,
            author=author,
            reason=reason,
            at_s=at_s,
            body=json.loads(body),
            at=stamp_of(*at),
        )
        for seq, chain, kind, author, reason, at_s, body, *at in rows
    ]


def optional_stamp(mono_ms: int | None, utc: str | None, utc_verified: int | None) -> Stamp | None:
    return None if mono_ms is None or utc is None else stamp_of(mono_ms, utc, utc_verified or 0)


def stamp_of(mono_ms: int, utc: str, utc_verified: int) -> Stamp:
    return Stamp(mono_ms=mono_ms, utc=utc, utc_verified=bool(utc_verified))


def _check_codec(codec: int) -> None:
    if codec != block.CODEC:
        raise StoreError(f"block of samples in layout {codec}, which this Beadwatch does not know")


def _record_of(row: Sequence[Any]) -> JointRecord:
    header, identity, claim, end, verdict = row[:15], row[15:19], row[19:26], row[26:31], row[31:33]
    number, project, attempt, previous_uuid = identity
    return JointRecord(
        header=_header_of(header),
        run=run_of(row[33:]),
        number=number,
        project=project,
        attempt=attempt,
        previous_uuid=previous_uuid,
        claim=None if claim[0] is None else _claim_of(claim),
        end=None if end[0] is None else _end_of(end),
        verdict=None if verdict[0] is None else Verdict(verdict[0]),
        judgement_text=verdict[1],
    )


def run_of(row: Sequence[Any]) -> RecorderRun:
    """Read boot, software, time scale, clock source and the stamp of the start."""
    boot_id, software, time_scale, clock_source, *started = row
    return RecorderRun(
        boot_id=boot_id,
        started=stamp_of(*started),
        software=software,
        time_scale=time_scale,
        clock_source=clock_source,
    )


def _header_of(row: Sequence[Any]) -> JointHeader:
    uuid, number, project, operator, rig_json, rig_toml, joint_toml, procedure, plan_json = row[:9]
    origin, time_scale, mono_ms, utc, utc_verified, boot_id = row[9:]
    return JointHeader(
        uuid=uuid,
        number=number,
        project=project,
        operator=operator,
        rig_json=rig_json,
        rig_toml=rig_toml,
        joint_toml=joint_toml,
        procedure=procedure,
        plan_json=plan_json,
        origin=Origin(origin),
        time_scale=time_scale,
        opened=stamp_of(mono_ms, utc, utc_verified),
        boot_id=boot_id,
    )


def _claim_of(row: Sequence[Any]) -> Claim:
    number, project, claimed_by, reason, *at = row
    return Claim(number=number, project=project, claimed_by=claimed_by, reason=reason, at=stamp_of(*at))


def _end_of(row: Sequence[Any]) -> JointEnd:
    how, reason, *at = row
    return JointEnd(how=HowEnded(how), reason=reason, at=stamp_of(*at))
