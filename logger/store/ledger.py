"""What the writer thread does to the file, one transaction each; reopens the file after any failure."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

import apsw

from logger.domain.record import (
    Claim,
    EmittedJudgement,
    JointEnd,
    JointHeader,
    RecorderOff,
    RecorderRun,
    Stamp,
    Statement,
)
from logger.errors import StoreError
from logger.store import reading, rows
from logger.store.chain import RECORDER, Chain, Signer, hash_of
from logger.store.connection import check_integrity, store_errors
from logger.store.importing import import_joint
from logger.store.intake import Batch, Intake
from logger.store.keys import KeyUse
from logger.store.schema import migrate
from logger.store.sealed import SealedJoint
from logger.store.transaction import transaction

BLOCK_SIZE = 9_000
"""Most samples in a block, a quarter of an hour at 10 Hz: bounds the memory that sealing takes."""


@dataclass(frozen=True, slots=True)
class _Keyed:
    """A batch with the keys its rows will have, fixed before the first try."""

    batch: Batch
    journal_seq: dict[str, int]
    first_event_id: int


class Ledger:
    """Used by one thread at a time. Every method raises StoreError and then has stored nothing.

    After a failed commit nobody knows whether it reached the disk. So the file is reopened, and a batch is
    tried again under the same keys, unless they are found to be there already.
    """

    def __init__(
        self, path: Path, connect: Callable[[Path], apsw.Connection], signer: Signer, utc: str
    ) -> None:
        self._path = path
        self._chain = Chain(signer, utc)
        self._connect = connect
        self._run_id: int | None = None
        self._in_flight: _Keyed | None = None
        with store_errors(path):
            connection = connect(path)
            try:
                check_integrity(connection)
                migrate(connection, utc)
                with transaction(connection):
                    self._chain.begin(connection)
                self._chain_name = reading.chain_of(connection)
                self.open_uuids = reading.open_uuids(connection)
                self._next_seq = reading.next_journal_seqs(connection)
                self._next_event_id = reading.next_event_id(connection)
            except BaseException:
                connection.close()
                raise
        self._connection: apsw.Connection | None = connection

    def close(self) -> None:
        """Close the file. A failure here costs nothing: what was committed stays in the log beside it."""
        connection, self._connection = self._connection, None
        if connection is not None:
            with suppress(apsw.Error):
                connection.close()

    def store_all(self, intake: Intake) -> None:
        """Store batch after batch until nothing waits."""
        while True:
            if self._in_flight is None:
                batch = intake.take()
                if batch is None:
                    return
                self._in_flight = self._keyed(batch)
            self._store(self._in_flight)
            self._in_flight = None
            intake.settle()

    def start_run(self, run: RecorderRun) -> int:
        with self._writing() as connection:
            run_id = rows.insert_run(connection, run)
            self._chain.utc = run.started.utc
            self._chain.recorder_use = KeyUse.LIVE if run.time_scale == 1.0 else KeyUse.DEMONSTRATION
            self._chain.append(connection, RECORDER, "run")
        self._run_id = run_id
        return run_id

    def end_run(self, at: Stamp, reason: str) -> None:
        with self._writing() as connection:
            rows.insert_run_end(connection, self._run(), at, reason)
            self._chain.utc = at.utc
            self._chain.append(connection, RECORDER, "run_end")

    def alive(self, at: Stamp) -> None:
        with self._writing() as connection:
            rows.put_alive(connection, self._run(), at)
        self._chain.utc = at.utc

    def record_off(self, off: RecorderOff) -> None:
        with self._writing() as connection:
            rows.insert_off(connection, off)
            self._chain.append(connection, RECORDER, "off")

    def open_joint(self, header: JointHeader) -> int:
        with self._writing() as connection:
            known = next(reading.records_where(connection, "WHERE joint.uuid = ?", (header.uuid,)), None)
            if known is None:
                attempt = rows.insert_joint(connection, self._run(), header)
                self._chain.utc = header.opened.utc
                self._chain.append(connection, header.uuid, "open")
            elif known.header == header and known.end is None:
                attempt = known.attempt
            else:
                raise StoreError(f"joint {header.uuid} is in the record already")
        self.open_uuids.add(header.uuid)
        return attempt

    def claim_joint(self, joint_uuid: str, claim: Claim) -> int:
        with self._writing() as connection:
            known = next(reading.records_where(connection, "WHERE joint.uuid = ?", (joint_uuid,)), None)
            if known is None:
                raise StoreError(f"joint {joint_uuid} is not in the record")
            if known.claim == claim:
                return known.attempt
            if known.number is not None:
                raise StoreError(f"joint {joint_uuid} has a name already: {known.number}")
            attempt = rows.insert_claim(connection, joint_uuid, claim)
            self._chain.utc = claim.at.utc
            self._chain.append(connection, joint_uuid, "claim")
        return attempt

    def append_statement(self, statement: Statement) -> int:
        with self._writing() as connection:
            about = statement.joint_uuid
            if about is not None and not reading.is_joint(connection, about):
                raise StoreError(f"joint {about} is not in the record")
            earlier = [s for s in reading.statements_of(connection, about) if s.chain == self._chain_name]
            if earlier and replace(earlier[-1], seq=0, chain="") == statement:
                return earlier[-1].seq
            try:
                rows.insert_statement(connection, statement, len(earlier) + 1)
            except (TypeError, ValueError) as err:
                raise StoreError(f'statement "{statement.kind}": {err}') from err
            self._chain.utc = statement.at.utc
            self._chain.append(connection, about or RECORDER, "statement")
        return len(earlier) + 1

    def import_joint(self, joint: SealedJoint, at: Stamp) -> int:
        with self._writing() as connection:
            count = import_joint(connection, joint)
            if count:
                heads = [f"{link.chain}:{link.seq}:{hash_of(link.body)}" for link in joint.last_links()]
                self._chain.utc = at.utc
                self._chain.append(connection, RECORDER, "import", {"imported": {joint.uuid: heads}})
            self._next_event_id = reading.next_event_id(connection)
        return count

    def renew_key(self, use: KeyUse, at: Stamp) -> bytes:
        with self._writing() as connection:
            self._chain.utc = at.utc
            public = self._chain.renew_key(connection, use)
        with self._writing() as connection:
            self._chain.announced(connection)
        return public

    def close_joint(self, joint_uuid: str, end: JointEnd, judgement: EmittedJudgement | None) -> None:
        with self._writing() as connection:
            known = reading.end_of(connection, joint_uuid)
            if known is None and joint_uuid not in self.open_uuids:
                raise StoreError(f"joint {joint_uuid} is not in the record")
            if known is not None and known != end:
                raise StoreError(f"joint {joint_uuid} has ended already: {known.how.value}")
            if known is None:
                samples = reading.journal_samples(connection, joint_uuid)
                rows.insert_blocks(connection, joint_uuid, samples, BLOCK_SIZE)
                if judgement is not None:
                    rows.insert_judgement(connection, joint_uuid, judgement)
                rows.insert_end(connection, self._run(), joint_uuid, end)
                self._chain.utc = end.at.utc
                self._chain.seal_minute(connection, joint_uuid, "end")
                connection.execute("DELETE FROM journal WHERE joint_uuid = ?", (joint_uuid,))
        self.open_uuids.discard(joint_uuid)
        self._next_seq.pop(joint_uuid, None)

    @contextmanager
    def _writing(self) -> Iterator[apsw.Connection]:
        """One transaction on a connection that has not failed before, with the chain as it is there."""
        with store_errors(self._path):
            if self._connection is None:
                self._connection = self._connect(self._path)
            try:
                with transaction(self._connection):
                    yield self._connection
            except BaseException as err:
                self._chain.forget()
                if isinstance(err, apsw.Error):
                    self.close()
                raise

    def _run(self) -> int:
        if self._run_id is None:
            raise StoreError("no recorder run has been started")
        return self._run_id

    def _keyed(self, batch: Batch) -> _Keyed:
        journal_seq = {uuid: self._next_seq.get(uuid, 1) for uuid in batch.samples}
        for uuid, seq in journal_seq.items():
            self._next_seq[uuid] = seq + 1
        keyed = _Keyed(batch, journal_seq, self._next_event_id)
        self._next_event_id += len(batch.events)
        return keyed

    def _store(self, keyed: _Keyed) -> None:
        with self._writing() as connection:
            if self._is_stored(connection, keyed):
                return
            minutes_over = []
            for uuid, samples in keyed.batch.samples.items():
                if self._chain.add_samples(connection, uuid, samples):
                    minutes_over.append(uuid)
                rows.insert_journal(connection, uuid, keyed.journal_seq[uuid], samples)
            for event_id, (joint_uuid, event) in enumerate(keyed.batch.events, keyed.first_event_id):
                rows.insert_event(connection, event_id, self._run(), joint_uuid, event)
                if joint_uuid is None and event.at is not None:
                    self._chain.note_events(connection, event.at.mono_ms)
            for uuid in minutes_over:
                self._chain.seal_minute(connection, uuid)

    def _is_stored(self, connection: apsw.Connection, keyed: _Keyed) -> bool:
        """One row tells for all: they went in together or not at all."""
        if keyed.journal_seq:
            key = next(iter(keyed.journal_seq.items()))
            found = connection.execute("SELECT 1 FROM journal WHERE joint_uuid = ? AND seq = ?", key)
            return found.fetchone() is not None
        found = connection.execute("SELECT 1 FROM event WHERE event_id = ?", (keyed.first_event_id,))
        return found.fetchone() is not None
