"""What one target has had, kept beside the record: two positions, parked lines, and the state for people.

A server may answer before it has kept what it took. So `sent` is what was answered, `kept` what was answered
long enough ago: after a start or a failure sending goes on from `kept`.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import apsw

from logger.domain.forward_status import ForwardState, ForwardStatus
from logger.errors import StoreError

_TABLES = """
CREATE TABLE IF NOT EXISTS position (
    target TEXT PRIMARY KEY, joint_id INTEGER NOT NULL, samples INTEGER NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS parked (
    parked_id INTEGER PRIMARY KEY, target TEXT NOT NULL, line TEXT NOT NULL, reason TEXT NOT NULL,
    utc TEXT NOT NULL, UNIQUE (target, line)) STRICT;
CREATE TABLE IF NOT EXISTS told (
    target TEXT PRIMARY KEY, state TEXT NOT NULL, reason TEXT NOT NULL, since_utc TEXT NOT NULL,
    backlog INTEGER NOT NULL, oldest_utc TEXT NOT NULL, sent INTEGER NOT NULL, utc TEXT NOT NULL) STRICT;
"""
_STATUS = """
SELECT target, state, reason, since_utc, backlog, oldest_utc, sent, utc,
    (SELECT count(*) FROM parked WHERE parked.target = told.target) FROM told ORDER BY target
"""


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """All joints before `joint_id` are through; of this one `samples`, and all of it when -1."""

    joint_id: int = 0
    samples: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Parked:
    """A line that the server does not take, and why."""

    line: str
    reason: str
    utc: str


class Outbox:
    """The forwarder's own small database. Raises StoreError where it cannot be read or written."""

    def __init__(self, path: Path) -> None:
        self._path = path
        with _store_errors(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = apsw.Connection(str(path))
            self._connection.set_busy_timeout(5_000)
            self._connection.pragma("journal_mode", "wal")
            # A power cut may take the last positions: then a little is sent twice, which changes nothing.
            self._connection.pragma("synchronous", 1)
            self._connection.execute(_TABLES)

    def close(self) -> None:
        self._connection.close()

    def kept(self, target: str) -> Position:
        """Return from where sending goes on after a start or a failure."""
        row = self._row("SELECT joint_id, samples FROM position WHERE target = ?", target)
        return Position(int(row[0]), int(row[1])) if row else Position()

    def keep(self, target: str, position: Position, *, was: Position) -> bool:
        """Store a position whose lines the server has surely kept, unless somebody has put it back since."""
        with _store_errors(self._path), self._connection:
            is_mine = self.kept(target) == was
            if is_mine:
                self.put_back(target, position)
        return is_mine

    def put_back(self, target: str, position: Position) -> None:
        """Let sending go on from `position`; a running forwarder notices."""
        self._run(
            "INSERT OR REPLACE INTO position VALUES (?, ?, ?)", target, position.joint_id, position.samples
        )

    def park(self, target: str, parked: Parked) -> None:
        """Put a line aside; the same line is kept once."""
        self._run(
            "INSERT OR IGNORE INTO parked (target, line, reason, utc) VALUES (?, ?, ?, ?)",
            target,
            parked.line,
            parked.reason,
            parked.utc,
        )

    def parked(self, target: str) -> list[Parked]:
        with _store_errors(self._path):
            found = self._connection.execute(
                "SELECT line, reason, utc FROM parked WHERE target = ? ORDER BY parked_id", (target,)
            )
            return [Parked(line=line, reason=reason, utc=utc) for line, reason, utc in found]

    def unpark(self, target: str) -> None:
        """Forget the parked lines, before the joints they belong to are sent again."""
        self._run("DELETE FROM parked WHERE target = ?", target)

    def tell(self, status: ForwardStatus) -> None:
        """Say how it stands; what is parked is counted by itself."""
        self._run(
            "INSERT OR REPLACE INTO told VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            status.target,
            status.state,
            status.reason,
            status.since_utc,
            status.backlog,
            status.oldest_utc,
            status.sent,
            status.utc,
        )

    def status(self, target: str) -> ForwardStatus | None:
        """Return what was told last, None before the forwarder has run."""
        with _store_errors(self._path):
            return next((one for one in _statuses(self._connection) if one.target == target), None)

    def _row(self, statement: str, *values: str | int) -> tuple[str | int, ...] | None:
        with _store_errors(self._path):
            return self._connection.execute(statement, values).fetchone()

    def _run(self, statement: str, *values: str | int) -> None:
        with _store_errors(self._path):
            self._connection.execute(statement, values)


def statuses_of(path: Path) -> list[ForwardStatus]:
    """Return what was told of every target, without touching anything; none where nothing ever was.

    Raises StoreError when the outbox is there and cannot be read.
    """
    if not path.exists():
        return []
    with _store_errors(path):
        connection = apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READONLY)
        try:
            connection.set_busy_timeout(1_000)
            return list(_statuses(connection))
        finally:
            connection.close()


def outbox_path(store: Path) -> Path:
    """Where the forwarder of this record keeps its own database: beside it."""
    return store.with_name(f"{store.stem}.forward.db")


def _statuses(connection: apsw.Connection) -> Iterator[ForwardStatus]:
    for target, state, reason, since_utc, backlog, oldest_utc, sent, utc, parked in connection.execute(
        _STATUS
    ):
        yield ForwardStatus(
            target=target,
            state=ForwardState(state),
            reason=reason,
            since_utc=since_utc,
            backlog=backlog,
            oldest_utc=oldest_utc,
            sent=sent,
            parked=parked,
            utc=utc,
        )


@contextmanager
def _store_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except (apsw.Error, OSError, ValueError) as error:
        raise StoreError(f"{path}: {error}") from error
