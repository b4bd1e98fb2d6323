"""The one writer of a record: a thread that commits once per second, off the sampling path."""

import logging
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import TypeVar

import apsw

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
    StoreHealth,
)
from logger.domain.sample import RawSample
from logger.errors import StoreError
from logger.store.connection import open_for_writing
from logger.store.intake import Intake
from logger.store.keys import Keys, KeyUse, fingerprint_of
from logger.store.ledger import Ledger
from logger.store.lock import WriterLock
from logger.store.sealed import SealedJoint

_log = logging.getLogger(__name__)

T = TypeVar("T")

CAPACITY = 6000
"""Samples that may wait for the disk: two minutes at 50 Hz."""


class Writer:
    """Writes one record file; a second writer, in this process or another, is refused.

    Every method may be called from any thread. `append` and `append_event` never wait for the disk; what they
    took is on disk after the next commit, or when `flush` returns. The others return after their own commit
    and raise StoreError when it failed: then nothing of it is stored and the call may be repeated.
    While the disk fails, samples wait in memory up to `capacity`, `health` says so, and each interval tries
    again on a fresh connection.
    """

    def __init__(
        self,
        path: Path,
        *,
        at: Stamp,
        interval_s: float = 1.0,
        capacity: int = CAPACITY,
        connect: Callable[[Path], apsw.Connection] = open_for_writing,
    ) -> None:
        self._interval_s = interval_s
        self._lock = WriterLock(path)
        try:
            self._ledger = Ledger(path, connect, Keys.beside(path), at.utc)
        except BaseException:
            self._lock.release()
            raise
        self._intake = Intake(capacity, self._ledger.open_uuids)
        self._has_run = False
        self._error = ""
        self._wake = threading.Condition()
        self._jobs: deque[Callable[[StoreError | None], None]] = deque()
        self._is_closing = False
        self._thread = threading.Thread(target=self._work, name="record-writer", daemon=True)
        self._thread.start()

    def append(self, joint_uuid: str, sample: RawSample) -> None:
        """Take one sample of an open joint. Raises StoreError when that joint is not open."""
        self._check_run()
        self._intake.put(joint_uuid, sample)

    def append_event(self, joint_uuid: str | None, event: RecordEvent) -> None:
        """Take one event of an open joint, or with None of the recorder. Raises StoreError like `append`."""
        self._check_run()
        self._intake.put_event(joint_uuid, event)

    def start_run(self, run: RecorderRun) -> int:
        """Record a start of the recorder; joints, ends and events from here on belong to it."""
        run_id = self._do(lambda: self._ledger.start_run(run))
        self._has_run = True
        return run_id

    def end_run(self, at: Stamp, reason: str) -> None:
        """Record that the recorder stops on purpose."""
        self._has_run = False
        self._do(lambda: self._ledger.end_run(at, reason))

    def alive(self, at: Stamp) -> None:
        """Note the last sign of life, from which an interval of recorder off is told after a kill."""
        self._do(lambda: self._ledger.alive(at))

    def record_off(self, off: RecorderOff) -> None:
        """Record an interval in which the recorder was off."""
        self._do(lambda: self._ledger.record_off(off))

    def open_joint(self, header: JointHeader) -> int:
        """Open a joint and return its attempt: 1, or one more than the last of that number in the project.

        Opening the same uuid again returns the attempt it has; raises StoreError when that joint has ended.
        """
        attempt = self._do(lambda: self._ledger.open_joint(header))
        self._intake.admit(header.uuid)
        return attempt

    def claim_joint(self, joint_uuid: str, claim: Claim) -> int:
        """Name an unnamed joint and return its attempt. Raises StoreError when it has a name already."""
        return self._do(lambda: self._ledger.claim_joint(joint_uuid, claim))

    def append_statement(self, statement: Statement) -> int:
        """Store a statement about a joint, open or ended, or about none; return its number.

        `seq` and `chain` of the value are left as they are by default. Repeating the statement stored last
        returns the number it has. Raises StoreError for a joint that is not in the record and a body that
        JSON cannot hold.
        """
        return self._do(lambda: self._ledger.append_statement(statement))

    def import_joint(self, joint: SealedJoint, at: Stamp) -> int:
        """Take over what is new of a sealed joint that was verified; return how many links that is.

        Raises StoreError with the reason when it does not go with what is here; then nothing of it is.
        """
        return self._do(lambda: self._ledger.import_joint(joint, at))

    def renew_key(self, use: KeyUse, at: Stamp) -> str:
        """Let the key of a use name its successor in the chain; return the fingerprint of the new key.

        From here on the new key signs; the old one is deleted.
        """
        return fingerprint_of(self._do(lambda: self._ledger.renew_key(use, at)))

    def close_joint(self, joint_uuid: str, end: JointEnd, judgement: EmittedJudgement | None) -> None:
        """Seal a joint in one transaction: blocks, phases, findings, verdict, end; its journal is pruned.

        Samples appended before the call are in it; from the call on `append` refuses the joint, unless the
        call fails. Closing again with the same end does nothing; another end raises StoreError.
        """
        self._intake.shut(joint_uuid)
        try:
            self._do(lambda: self._ledger.close_joint(joint_uuid, end, judgement))
        except StoreError:
            if joint_uuid in self._ledger.open_uuids:
                self._intake.admit(joint_uuid)
            raise

    def flush(self) -> None:
        """Return when all that was appended before the call is on disk. Raises StoreError when it is not."""
        self._do(lambda: None)

    def health(self) -> StoreHealth:
        return StoreHealth(
            error=self._error, pending=self._intake.pending_count, dropped=self._intake.dropped_count
        )

    def close(self) -> None:
        """Commit what waits, close the file, release the lock. Raises StoreError when samples were lost."""
        with self._wake:
            if self._is_closing:
                return
            self._is_closing = True
            self._wake.notify()
        self._thread.join()
        self._ledger.close()
        self._lock.release()
        if self._error:
            raise StoreError(f"closed with {self._intake.pending_count} samples not stored: {self._error}")

    def _check_run(self) -> None:
        if not self._has_run:
            raise StoreError("no recorder run has been started")

    def _do(self, act: Callable[[], T]) -> T:
        """Run `act` on the writer thread after a commit of all that waits; return or raise what it does."""
        future: Future[T] = Future()

        def job(error: StoreError | None) -> None:
            try:
                if error is not None:
                    raise error
                future.set_result(act())
            except Exception as err:
                future.set_exception(_store_error(err))

        with self._wake:
            if self._is_closing:
                raise StoreError("the record is closed")
            self._jobs.append(job)
            self._wake.notify()
        return future.result()

    def _work(self) -> None:
        is_closing = False
        while not is_closing:
            with self._wake:
                self._wake.wait_for(lambda: self._jobs or self._is_closing, self._interval_s)
                jobs, self._jobs = self._jobs, deque()
                is_closing = self._is_closing
            error = self._commit()
            for job in jobs:
                job(error)

    def _commit(self) -> StoreError | None:
        try:
            self._ledger.store_all(self._intake)
        except Exception as err:
            # Whatever it is, the thread goes on: sampling must not stop, and health must say so.
            error = _store_error(err)
            if not self._error:
                _log.warning("record not written: %s", error)
            self._error = str(error)
            return error
        if self._error:
            _log.info("record written again, %d samples dropped so far", self._intake.dropped_count)
            self._error = ""
        return None


def _store_error(err: Exception) -> StoreError:
    if isinstance(err, StoreError):
        return err
    error = StoreError(f"{type(err).__name__}: {err}")
    error.__cause__ = err
    return error
