"""Files attached to joints: their copies lie beside the record, their hashes in it."""

import hashlib
import json
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from logger.domain.seal import Fault, Verification
from logger.store.connection import open_for_reading, store_errors

ATTACHMENT = "attachment"
"""Kind of the statement about one."""


@dataclass(frozen=True, slots=True)
class Attached:
    """One attached file as the record names it, and where its copy is to lie."""

    joint_uuid: str
    file: str
    copy: Path
    sha256: str

    def data(self) -> bytes | None:
        """Return the copy, None where it is not there or is not the file that was attached."""
        try:
            data = self.copy.read_bytes()
        except OSError:
            return None
        return data if hashlib.sha256(data).hexdigest() == self.sha256 else None


def folder_of(record: Path) -> Path:
    """The folder of copies beside a record."""
    return record.with_name(f"{record.stem}.attachments")


def attached_to(record: Path, joints: Collection[str] | None = None) -> Iterator[Attached]:
    """Yield what is attached to these joints, or with None to any. Raises StoreError."""
    query = "SELECT joint_uuid, body FROM statement WHERE kind = ?"
    connection = open_for_reading(record)
    try:
        with store_errors(record):
            if joints is None:
                said = list(connection.execute(query, (ATTACHMENT,)))
            else:
                of = f"{query} AND joint_uuid = ?"
                said = [row for uuid in joints for row in connection.execute(of, (ATTACHMENT, uuid))]
    finally:
        connection.close()
    for uuid, text in said:
        body = json.loads(str(text))
        copy = folder_of(record) / Path(str(body["copy"])).name
        yield Attached(str(uuid), str(body["file"]), copy, str(body["sha256"]))


def check_attachments(record: Path, joints: Collection[str] | None, found: Verification) -> None:
    """Add a fault for each copy that is not the file that was attached, a note for one that is not there."""
    for one in attached_to(record, joints):
        if one.data() is None:
            is_there = one.copy.exists()
            code = "attachment.changed" if is_there else "attachment.missing"
            said = Fault(code=code, where=one.joint_uuid, parameters={"file": one.file})
            (found.faults if is_there else found.notes).append(said)
