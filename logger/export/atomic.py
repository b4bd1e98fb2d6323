"""Files that are either whole or not there."""

import os
from pathlib import Path

from logger.errors import StoreError


def write_whole(path: Path, data: bytes) -> None:
    """Write `data` to `path` so that a reader, or a power cut, finds the old file or the new one.

    Raises StoreError naming the file.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise StoreError(f"{path}: {error.strerror or error}") from error
