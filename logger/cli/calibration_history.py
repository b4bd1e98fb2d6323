"""The calibrations of a rig, a line each, in a file beside the rig file that is only ever appended to."""

import os
from pathlib import Path

from pydantic import ValidationError

from logger.errors import InputError, StoreError
from logger.wire.calibration import CalibrationModel

HISTORY_SUFFIX = ".calibrations.jsonl"


def history_of(rig_file: Path) -> Path:
    return rig_file.with_name(rig_file.stem + HISTORY_SUFFIX)


def append_calibration(rig_file: Path, entry: CalibrationModel) -> Path:
    """Add a line to the history beside the rig file and wait until it is on disk. Raises StoreError."""
    file = history_of(rig_file)
    line = (entry.model_dump_json() + "\n").encode()
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        try:
            os.write(descriptor, line)
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        raise StoreError(f"{file}: cannot be written: {error.strerror}") from error
    return file


def calibrations(rig_file: Path) -> list[CalibrationModel]:
    """Return the whole history, oldest first. Raises InputError naming a line that is none."""
    file = history_of(rig_file)
    if not file.exists():
        return []
    found = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            found.append(CalibrationModel.model_validate_json(line))
        except ValidationError as error:
            raise InputError(str(error.errors()[0]["msg"]), file=str(file), line=number) from None
    return found
