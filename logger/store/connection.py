"""Opening the record: pragmas, integrity, refusal of what is not ours; every error leaves as a StoreError."""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import apsw

from logger.errors import DamagedRecord, StoreError
from logger.store.schema import MIGRATIONS, check_version

_BUSY_TIMEOUT_MS = 5000
_CACHE_KIB = 512
_OLDEST_SQLITE = (3, 51, 3)


@contextmanager
def store_errors(path: Path) -> Iterator[None]:
    """Translate errors of SQLite and of the file system; the cause is kept."""
    try:
        yield
    except (apsw.CorruptError, apsw.NotADBError) as err:
        raise DamagedRecord(f"{path}: damaged: {err}") from err
    except (apsw.Error, OSError) as err:
        raise StoreError(f"{path}: {err}") from err


def open_for_writing(path: Path) -> apsw.Connection:
    """Open or create the file in WAL mode with every commit synced.

    The schema is left as it is; `logger.store.schema.migrate` brings it up to date.
    """
    check_sqlite()
    with store_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READWRITE | apsw.SQLITE_OPEN_CREATE)
        try:
            _prepare(connection, path)
        except BaseException:
            connection.close()
            raise
        _sync_folder(path.parent)
    return connection


def open_for_reading(path: Path) -> apsw.Connection:
    """Open an existing record read-only, beside a writer in another process."""
    check_sqlite()
    with store_errors(path):
        if not path.is_file():
            raise StoreError(f"{path}: no such record")
        if not os.access(path, os.R_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        connection = apsw.Connection(str(path), flags=apsw.SQLITE_OPEN_READONLY)
        try:
            connection.set_busy_timeout(_BUSY_TIMEOUT_MS)
            version = check_version(connection)
            if version < len(MIGRATIONS):
                raise StoreError(
                    f"{path}: schema {version} is older than this Beadwatch; the recorder updates it"
                )
        except BaseException:
            connection.close()
            raise
    return connection


def check_integrity(connection: apsw.Connection) -> None:
    """Raise DamagedRecord when the file is damaged; takes longer the larger the file is."""
    found = connection.execute("PRAGMA quick_check(1)").get
    if found != "ok":
        raise DamagedRecord(f"{connection.filename}: damaged: {found}")


def check_sqlite() -> None:
    """Refuse an SQLite with the WAL-reset bug (fixed in 3.51.3, sqlite.org/wal.html)."""
    version = tuple(int(part) for part in apsw.sqlite_lib_version().split("."))
    if version < _OLDEST_SQLITE:
        raise StoreError(
            f"SQLite {apsw.sqlite_lib_version()} may damage the record; 3.51.3 or newer is needed"
        )


def _prepare(connection: apsw.Connection, path: Path) -> None:
    connection.set_busy_timeout(_BUSY_TIMEOUT_MS)
    check_version(connection)
    if connection.pragma("journal_mode", "wal") != "wal":
        raise StoreError(f"{path}: the file system does not support a write-ahead log")
    connection.pragma("synchronous", "full")
    connection.pragma("foreign_keys", "on")
    # Plenty for one joint; the usual 2 MB stay full for weeks once a large record was checked at the start.
    connection.pragma("cache_size", -_CACHE_KIB)


def _sync_folder(folder: Path) -> None:
    """Make the name of a new file survive a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
