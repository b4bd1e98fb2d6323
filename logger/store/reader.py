"""Reading a record while, in this process or another, its writer may be at work."""

import difflib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

import apsw

from logger.domain.record import (
    JointRecord,
    LastRun,
    OpenJoint,
    RecorderOff,
    RecordEvent,
    Statement,
)
from logger.domain.sample import RawSample
from logger.domain.seal import ChainHead, JointSeal
from logger.errors import InputError
from logger.store import reading, seals
from logger.store.connection import open_for_reading, store_errors
from logger.store.sealed import SealedJoint

NEIGHBOURS = 500
SHOWN_OF_UUID = 8


class Reader:
    """A read-only view. Each method sees one consistent state and raises StoreError when it cannot read.

    Used by one thread at a time.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._connection = open_for_reading(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        self._connection.close()

    def list_joints(self, *, project: str | None = None, limit: int = 100) -> list[JointRecord]:
        """Return the joints opened last first; claimed joints stand under the project of their claim."""
        with self._state() as connection:
            return list(
                reading.records_where(
                    connection,
                    "WHERE ?1 IS NULL OR identity.project = ?1 ORDER BY joint_id DESC LIMIT ?2",
                    (project, limit),
                )
            )

    def joint(self, key: str, *, project: str | None = None, attempt: int | None = None) -> JointRecord:
        """Return the joint of this uuid, or of this number: its latest attempt unless `attempt` is given.

        Of a uuid the first eight digits will do, as a list shows them, where no number reads so.

        Raises InputError when there is none, naming the nearest number, and when the number stands in
        several projects and `project` is not given.
        """
        with self._state() as connection:
            by_uuid = next(reading.records_where(connection, "WHERE joint.uuid = ?", (key,)), None)
            if by_uuid is not None:
                return by_uuid
            found = list(
                reading.records_where(
                    connection,
                    "WHERE joint.joint_id IN (SELECT joint_id FROM summary WHERE number = ?1 "
                    "AND (?2 IS NULL OR project = ?2) AND (?3 IS NULL OR attempt = ?3)) "
                    "ORDER BY identity.attempt DESC",
                    (key, project, attempt),
                )
            )
            if not found and len(key) >= SHOWN_OF_UUID:
                begins = (
                    "WHERE joint.uuid >= ?1 AND joint.uuid < ?1 || 'g' LIMIT 2"  # g: behind f, the last digit
                )
                found = list(reading.records_where(connection, begins, (key.lower(),)))
                if len(found) > 1:
                    raise InputError(f"several joints have an id that begins with {key}: give more of it")
            if not found:
                raise InputError(self._not_found(connection, key, attempt))
        projects = sorted({record.project for record in found})
        if len(projects) > 1:
            raise InputError(f"joint {key} stands in several projects: {', '.join(projects)}")
        return found[0]

    def samples(self, joint_uuid: str) -> list[RawSample]:
        """Return the samples of a joint in order, sealed or still open."""
        with self._state() as connection:
            if reading.end_of(connection, joint_uuid) is None:
                return list(reading.journal_samples(connection, joint_uuid))
            return reading.block_samples(connection, joint_uuid)

    def events(self, joint_uuid: str | None) -> list[RecordEvent]:
        """Return the events of a joint, or with None those of the recorder itself."""
        with self._state() as connection:
            return reading.events_of(connection, joint_uuid)

    def statements_of(self, joint_uuid: str | None) -> list[Statement]:
        """Return the statements about a joint, or with None those about no joint, in the order stored."""
        with self._state() as connection:
            return reading.statements_of(connection, joint_uuid)

    def chain_head(self) -> ChainHead | None:
        """Return the latest link of the record's own chain, None where nothing was ever sealed."""
        with self._state() as connection:
            return seals.chain_head(connection)

    def seal_of(self, joint_uuid: str) -> JointSeal:
        """Return how far a joint is sealed; nothing is verified by it."""
        with self._state() as connection:
            return seals.seal_of(connection, joint_uuid)

    def sealed_joint(self, joint_uuid: str) -> str:
        """Return the file of a sealed joint, for a bundle. Raises StoreError when it is open or not there."""
        with self._state() as connection:
            return SealedJoint.of(connection, joint_uuid).text()

    def open_joints(self) -> list[OpenJoint]:
        """Return the joints without an end, oldest first: what a start after a kill has to decide on."""
        with self._state() as connection:
            open_ones = "WHERE joint.joint_id IN (SELECT joint_id FROM summary WHERE ended IS NULL)"
            records = list(reading.records_where(connection, f"{open_ones} ORDER BY joint.joint_id"))
            found = connection.execute(
                "SELECT joint_uuid, max(last_ms), sum(sample_count) FROM journal GROUP BY 1"
            )
            progress = {uuid: (last_ms, count) for uuid, last_ms, count in found}
        joints = []
        for record in records:
            last_t_ms, sample_count = progress.get(record.header.uuid, (None, 0))
            joints.append(OpenJoint(record=record, last_t_ms=last_t_ms, sample_count=sample_count))
        return joints

    def last_run(self) -> LastRun | None:
        """Return the latest start of the recorder and how it ended, None in a new record."""
        with self._state() as connection:
            row = connection.execute(_LAST_RUN).fetchone()
        if row is None:
            return None
        return LastRun(
            run=reading.run_of(row[:7]),
            ended=reading.optional_stamp(*row[7:10]),
            end_reason=row[10] or "",
            alive=reading.optional_stamp(*row[11:14]),
        )

    def recorder_off(self) -> list[RecorderOff]:
        """Return the intervals in which the recorder was off, in the order they were stored."""
        with self._state() as connection:
            found = connection.execute("SELECT from_utc, to_utc, reason FROM recorder_off ORDER BY off_id")
            return [RecorderOff(from_utc=since, to_utc=to, reason=reason) for since, to, reason in found]

    @contextmanager
    def _state(self) -> Iterator[apsw.Connection]:
        with store_errors(self._path):
            self._connection.execute("BEGIN")
            try:
                yield self._connection
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def _not_found(self, connection: apsw.Connection, key: str, attempt: int | None) -> str:
        # In a large record only the neighbours by the alphabet are weighed: they begin alike.
        numbers = connection.execute(
            "SELECT * FROM (SELECT DISTINCT number FROM summary WHERE number >= ?1 ORDER BY 1 LIMIT ?2) "
            "UNION ALL SELECT * FROM "
            "(SELECT DISTINCT number FROM summary WHERE number < ?1 ORDER BY 1 DESC LIMIT ?2)",
            (key, NEIGHBOURS),
        )
        nearest = difflib.get_close_matches(key, [number for (number,) in numbers], n=1, cutoff=0.0)
        what = f"joint {key}" if attempt is None else f"joint {key}, attempt {attempt}"
        hint = f" (nearest: {nearest[0]})" if nearest else " (it holds no named joint)"
        return f"{what} is not in the record {self._path}{hint}"


_LAST_RUN = """
SELECT run.boot_id, software, time_scale, clock_source, started_mono_ms, started_utc, run.utc_verified,
    ended.mono_ms, ended.utc, ended.utc_verified, ended.reason, alive.mono_ms, alive.utc, alive.utc_verified
FROM recorder_run run LEFT JOIN recorder_run_end ended ON ended.run_id = run.run_id
    LEFT JOIN alive ON alive.run_id = run.run_id
WHERE run.run_id NOT IN (SELECT run_id FROM imported_run)
ORDER BY run.run_id DESC LIMIT 1
"""
