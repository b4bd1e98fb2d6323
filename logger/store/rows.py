"""The writer's statements: domain values to rows. Each function runs inside the caller's transaction."""

import json
from collections.abc import Iterator, Sequence
from itertools import islice

import apsw

from logger.domain.judgement import Judgement
from logger.domain.record import (
    Claim,
    EmittedJudgement,
    JointEnd,
    JointHeader,
    RecorderOff,
    RecorderRun,
    RecordEvent,
    Stamp,
    Statement,
)
from logger.domain.sample import RawSample
from logger.store import block
from logger.store.evidence import canonical_json


def insert_run(connection: apsw.Connection, run: RecorderRun) -> int:
    connection.execute(
        "INSERT INTO recorder_run (boot_id, started_mono_ms, started_utc, utc_verified, software, "
        "time_scale, clock_source) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (run.boot_id, *_stamp(run.started), run.software, run.time_scale, run.clock_source),
    )
    return connection.last_insert_rowid()


def insert_run_end(connection: apsw.Connection, run_id: int, at: Stamp, reason: str) -> None:
    connection.execute(
        "INSERT INTO recorder_run_end (run_id, mono_ms, utc, utc_verified, reason) VALUES (?, ?, ?, ?, ?)",
        (run_id, *_stamp(at), reason),
    )


def insert_off(connection: apsw.Connection, off: RecorderOff) -> None:
    connection.execute(
        "INSERT INTO recorder_off (from_utc, to_utc, reason) VALUES (?, ?, ?)",
        (off.from_utc, off.to_utc, off.reason),
    )


def put_alive(connection: apsw.Connection, run_id: int, at: Stamp) -> None:
    connection.execute(
        "INSERT INTO alive (run_id, mono_ms, utc, utc_verified) VALUES (?, ?, ?, ?) ON CONFLICT (run_id) "
        "DO UPDATE SET mono_ms = excluded.mono_ms, utc = excluded.utc, utc_verified = excluded.utc_verified",
        (run_id, *_stamp(at)),
    )


def next_attempt(connection: apsw.Connection, project: str, number: str) -> tuple[int, str | None]:
    """Return the attempt that a new joint of this number is, and the uuid of the attempt before."""
    latest = max(attempts_of(connection, project, number).items(), default=(0, None))
    return latest[0] + 1, latest[1]


def attempts_of(connection: apsw.Connection, project: str, number: str) -> dict[int, str]:
    """Return the joints of this name by attempt, those named by a claim too; found by an index."""
    found = connection.execute(
        "SELECT attempt, uuid FROM joint WHERE project = ?1 AND number = ?2 UNION ALL "
        "SELECT attempt, joint_uuid FROM claim WHERE project = ?1 AND number = ?2",
        (project, number),
    )
    return {int(attempt): str(uuid) for attempt, uuid in found}


def insert_joint(connection: apsw.Connection, run_id: int, header: JointHeader) -> int:
    """Insert the joint and return its attempt; a joint without number is attempt 1 of itself."""
    attempt, previous_uuid = (
        (1, None) if header.number is None else next_attempt(connection, header.project, header.number)
    )
    connection.execute(
        "INSERT INTO joint (uuid, run_id, number, project, attempt, previous_uuid, operator, rig_json, "
        "rig_toml, joint_toml, procedure, plan_json, origin, time_scale, opened_mono_ms, opened_utc, "
        "utc_verified, boot_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            header.uuid, run_id, header.number, header.project, attempt, previous_uuid, header.operator,
            header.rig_json, header.rig_toml, header.joint_toml, header.procedure, header.plan_json,
            header.origin.value, header.time_scale, *_stamp(header.opened), header.boot_id,
        ),
    )  # fmt: skip
    return attempt


def insert_claim(connection: apsw.Connection, uuid: str, claim: Claim) -> int:
    """Insert the claim and return the attempt that the joint becomes."""
    attempt, previous_uuid = next_attempt(connection, claim.project, claim.number)
    connection.execute(
        "INSERT INTO claim (joint_uuid, number, project, attempt, previous_uuid, claimed_by, reason, "
        "mono_ms, utc, utc_verified) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (uuid, claim.number, claim.project, attempt, previous_uuid, claim.claimed_by, claim.reason,
         *_stamp(claim.at)),
    )  # fmt: skip
    return attempt


def insert_statement(connection: apsw.Connection, statement: Statement, seq: int) -> None:
    """Insert a statement made here. Raises ValueError or TypeError when its body is not JSON."""
    connection.execute(
        "INSERT INTO statement (chain, joint_uuid, seq, kind, author, reason, at_s, mono_ms, utc, "
        "utc_verified, body) SELECT chain, ?, ?, ?, ?, ?, ?, ?, ?, ?, ? FROM chain",
        (
            statement.joint_uuid or "", seq, statement.kind, statement.author, statement.reason,
            statement.at_s, *_stamp(statement.at), canonical_json(statement.body),
        ),
    )  # fmt: skip


def insert_event(
    connection: apsw.Connection, event_id: int, run_id: int, joint_uuid: str | None, event: RecordEvent
) -> None:
    stamp = (None, None, None) if event.at is None else _stamp(event.at)
    connection.execute(
        "INSERT INTO event (event_id, run_id, joint_uuid, kind, code, t_ms, mono_ms, utc, utc_verified, "
        "parameters) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            event_id, run_id, joint_uuid, event.kind.value, event.code, event.t_ms, *stamp,
            json.dumps(dict(event.parameters), allow_nan=False),
        ),
    )  # fmt: skip


def insert_journal(
    connection: apsw.Connection, joint_uuid: str, seq: int, samples: Sequence[RawSample]
) -> None:
    """Insert one batch of samples, at least one."""
    connection.execute(
        "INSERT INTO journal (joint_uuid, seq, last_ms, sample_count, codec, data) VALUES (?, ?, ?, ?, ?, ?)",
        (joint_uuid, seq, samples[-1].t_ms, len(samples), block.CODEC, block.encode(samples)),
    )


def insert_blocks(
    connection: apsw.Connection, joint_uuid: str, samples: Iterator[RawSample], block_size: int
) -> None:
    """Insert the samples of a joint as blocks of at most `block_size`; one block at a time is in memory."""
    parts = iter(lambda: list(islice(samples, block_size)), [])
    for seq, part in enumerate(parts, 1):
        canonical = block.encode(part)
        connection.execute(
            "INSERT INTO joint_block (joint_uuid, seq, first_ms, last_ms, sample_count, codec, sha256, data) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                joint_uuid, seq, part[0].t_ms, part[-1].t_ms, len(part), block.CODEC,
                block.sha256_of(canonical), block.compress(canonical),
            ),
        )  # fmt: skip


def insert_end(connection: apsw.Connection, run_id: int, joint_uuid: str, end: JointEnd) -> None:
    connection.execute(
        "INSERT INTO joint_end (joint_uuid, run_id, how, reason, mono_ms, utc, utc_verified) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (joint_uuid, run_id, end.how.value, end.reason, *_stamp(end.at)),
    )


def insert_judgement(connection: apsw.Connection, joint_uuid: str, emitted: EmittedJudgement) -> None:
    """Insert phases, findings and verdict as rows, the verdict with the text exactly as emitted."""
    judgement = emitted.judgement
    _insert_phases(connection, joint_uuid, judgement)
    connection.executemany(
        'INSERT INTO finding (joint_uuid, seq, code, severity, measured, "limit", unit, start_s, end_s, '
        "clause, standard_uncertainty) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                joint_uuid, seq, finding.code, finding.severity.value, finding.measured, finding.limit,
                finding.unit, finding.start_s, finding.end_s, finding.clause, finding.standard_uncertainty,
            )
            for seq, finding in enumerate(judgement.findings, 1)
        ],
    )  # fmt: skip
    connection.execute(
        "INSERT INTO verdict (joint_uuid, verdict, reasons, decision_rule, judgement) VALUES (?, ?, ?, ?, ?)",
        (
            joint_uuid,
            judgement.verdict.value,
            json.dumps(list(judgement.reasons)),
            judgement.decision_rule,
            emitted.text,
        ),
    )


def _insert_phases(connection: apsw.Connection, joint_uuid: str, judgement: Judgement) -> None:
    connection.executemany(
        "INSERT INTO phase (joint_uuid, phase, start_s, end_s, start_u_s, end_u_s, start_reason, end_reason) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                joint_uuid, span.phase.value, span.start.at_s, span.end.at_s, span.start.u_s, span.end.u_s,
                span.start.reason, span.end.reason,
            )
            for span in judgement.phases
        ],
    )  # fmt: skip


def _stamp(at: Stamp) -> tuple[int, str, bool]:
    return at.mono_ms, at.utc, at.utc_verified
