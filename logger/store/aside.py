"""A damaged record is set aside under another name, never deleted: what it still holds can be looked into."""

import os
from itertools import count
from pathlib import Path

from logger.errors import StoreError
from logger.store.lock import WriterLock

_PARTS = ("", "-wal", "-shm")
"""The file and what SQLite keeps beside it, which belongs to it."""


def set_aside(record: Path, utc: str) -> Path:
    """Rename the record with its companions, the time in the name; return where it is now.

    Raises StoreError when somebody has it open for writing, or when it cannot be renamed.
    """
    lock = WriterLock(record)
    try:
        aside = _free_name(record, "".join(c for c in utc.partition(".")[0] if c.isalnum()) + "Z")
        for part in _PARTS:
            beside = record.with_name(record.name + part)
            if beside.exists():
                beside.rename(aside.with_name(aside.name + part))
    except OSError as err:
        raise StoreError(f"{record}: damaged, and it could not be set aside: {err.strerror}") from err
    finally:
        lock.release()
    _sync(record.parent)
    return aside


def _free_name(record: Path, time: str) -> Path:
    for number in count(1):
        again = "" if number == 1 else f"-{number}"
        aside = record.with_name(f"{record.name}.damaged-{time}{again}")
        if not aside.exists():
            return aside
    raise AssertionError


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
