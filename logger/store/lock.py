"""One writer per record: a lock file beside it, held as long as the process lives."""

import fcntl
import os
from pathlib import Path

from logger.errors import StoreError


class WriterLock:
    """Held from construction to `release`; the kernel releases it when the process dies."""

    def __init__(self, record: Path) -> None:
        path = record.with_name(record.name + ".lock")
        try:
            record.parent.mkdir(parents=True, exist_ok=True)
            self._handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as err:
            raise StoreError(f"{path}: {err.strerror}") from err
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as err:
            holder = os.pread(self._handle, 32, 0).decode("ascii", "replace").strip()
            os.close(self._handle)
            raise StoreError(f"{record}: already open for writing by process {holder or 'unknown'}") from err
        os.ftruncate(self._handle, 0)
        os.pwrite(self._handle, f"{os.getpid()}\n".encode("ascii"), 0)

    def release(self) -> None:
        os.close(self._handle)
