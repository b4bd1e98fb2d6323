"""A copy of the record in one file, taken while it is written, and the way back."""

import os
import shutil
from pathlib import Path

import apsw

from logger.domain.seal import Verification
from logger.errors import StoreError
from logger.store.attachments import check_attachments, folder_of
from logger.store.connection import open_for_reading, store_errors
from logger.store.lock import WriterLock
from logger.store.verify import verify_record


def backup(record: Path, to: Path) -> Verification:
    """Copy a record and what is attached, also while it is written, and verify it. The keys are not in it.

    Raises StoreError when `to` is there already or the copy cannot be made; then there is no copy.
    """
    if to.exists():
        raise StoreError(f"{to}: is there already; a backup overwrites nothing")
    return _copy(record, to)


def restore(copy: Path, record: Path) -> Verification:
    """Put a backup in the place of a record that is not there. Raises StoreError when one is."""
    lock = WriterLock(record)
    try:
        if record.exists():
            raise StoreError(f"{record}: is there already; a restore overwrites nothing, move it away first")
        return _copy(copy, record)
    finally:
        lock.release()


def _copy(source: Path, to: Path) -> Verification:
    part = to.with_name(to.name + ".part")
    reading = open_for_reading(source)
    try:
        with store_errors(to):
            part.unlink(missing_ok=True)
            writing = apsw.Connection(str(part))
            try:
                with writing.backup("main", reading, "main") as copying:
                    while not copying.done:
                        copying.step(1000)
                # One file by itself: it can be read where nothing can be written beside it.
                writing.pragma("journal_mode", "delete")
            finally:
                writing.close()
            found = verify_record(part)
            check_attachments(source, None, found)
            if folder_of(source).is_dir():
                shutil.copytree(folder_of(source), folder_of(to), dirs_exist_ok=True)
            _sync(part)
            part.rename(to)
            _sync(to.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    finally:
        reading.close()
    return found


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
