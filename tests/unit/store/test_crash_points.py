"""Power lost at every single file operation of the writer: what was acknowledged is there, in order.

A file system of our own notes each write, truncation and sync. The files are then built again as they may be
found after a cut at each point: with all that was written so far, with only what was synced, and with the
last write torn. It does not model a disk that lies about syncs, nor writes reordered between two syncs.
"""

import shutil
from dataclasses import dataclass, field
from pathlib import Path

import apsw
import pytest

from logger.store.connection import _prepare, check_integrity, open_for_writing
from logger.store.keys import folder_of
from logger.store.reader import Reader
from tests.unit.store.record_values import EMITTED, FINISHED, HEADER, open_writer, sample

VFS = "crash-points"


@dataclass
class Log:
    """Operations on files in order, and after how many of them how many samples had been acknowledged."""

    operations: list[tuple[str, str, int, bytes]] = field(default_factory=list)
    acknowledged: list[tuple[int, int]] = field(default_factory=list)

    def acknowledge(self, count: int) -> None:
        self.acknowledged.append((len(self.operations), count))

    def promised_at(self, point: int) -> int:
        return max((count for at, count in self.acknowledged if at <= point), default=0)


class LoggedFile(apsw.VFSFile):
    def __init__(self, log: Log, name, flags):
        self._log = log
        self._name = Path(name.filename() if isinstance(name, apsw.URIFilename) else name or "").name
        super().__init__("", name, flags)

    def xWrite(self, data, offset):
        super().xWrite(data, offset)
        self._log.operations.append((self._name, "write", offset, bytes(data)))

    def xTruncate(self, size):
        super().xTruncate(size)
        self._log.operations.append((self._name, "truncate", size, b""))

    def xSync(self, flags):
        super().xSync(flags)
        self._log.operations.append((self._name, "sync", 0, b""))


class LoggedFiles(apsw.VFS):
    def __init__(self, log: Log):
        self._log = log
        super().__init__(VFS, "")

    def xOpen(self, name, flags):
        return LoggedFile(self._log, name, flags)

    def xDelete(self, filename, syncdir):
        super().xDelete(filename, syncdir)
        self._log.operations.append((Path(filename).name, "delete", 0, b""))


def made(path: Path, synchronous: str) -> tuple[Log, Path]:
    """The log of a record with three acknowledged portions of samples, sealed, and the folder of its keys."""
    log = Log()
    files = LoggedFiles(log)

    def connect(path: Path) -> apsw.Connection:
        connection = apsw.Connection(str(path), vfs=VFS)
        _prepare(connection, path)
        connection.pragma("synchronous", synchronous)
        return connection

    writer = open_writer(path, connect=connect)
    writer.open_joint(HEADER)
    for portion in range(3):
        for index in range(10 * portion, 10 * portion + 10):
            writer.append(HEADER.uuid, sample(index))
        writer.flush()
        log.acknowledge(10 * portion + 10)
    writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
    log.acknowledge(31)
    writer.close()
    files.unregister()
    return log, folder_of(path)


@pytest.fixture(scope="module")
def logged(tmp_path_factory):
    return made(tmp_path_factory.mktemp("made") / "record.db", "full")


def files_at(log: Log, point: int, fate: str) -> dict[str, bytearray]:
    """The files after a cut behind `point` operations."""
    last_sync = {name: at for at, (name, kind, *_) in enumerate(log.operations[:point]) if kind == "sync"}
    files: dict[str, bytearray] = {}
    for at, (name, kind, offset, data) in enumerate(log.operations[:point]):
        if fate == "unsynced lost" and kind != "delete" and at > last_sync.get(name, -1):
            continue
        if fate == "last write torn" and at == point - 1:
            data = data[: len(data) // 2]
        content = files.setdefault(name, bytearray())
        if kind == "write":
            content.extend(bytes(max(0, offset - len(content))))
            content[offset : offset + len(data)] = data
        elif kind == "truncate":
            del content[offset:]
        elif kind == "delete":
            files.pop(name, None)
    return files


def samples_after(folder: Path, files: dict[str, bytearray], keys: Path) -> int:
    """Open what is left as a recorder would; return how many samples of the joint are there, in order."""
    for name, content in files.items():
        (folder / name).write_bytes(content)
    record = folder / "record.db"
    if not record.exists():
        return 0
    shutil.copytree(keys, folder_of(record))
    connection = open_for_writing(record)
    check_integrity(connection)
    has_joints = connection.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'joint'").get
    connection.close()
    if not has_joints:
        return 0
    open_writer(record).close()
    with Reader(record) as reader:
        if not reader.list_joints():
            return 0
        stored = reader.samples(HEADER.uuid)
        ended = reader.joint(HEADER.uuid).end is not None
    assert stored == [sample(index) for index in range(len(stored))]
    return 31 if ended else len(stored)


@pytest.mark.parametrize("fate", ["all written", "unsynced lost", "last write torn"])
def test_nothing_acknowledged_is_lost_at_any_point(logged, in_memory, fate):
    log, keys = logged
    assert len(log.operations) > 60
    assert [count for _, count in log.acknowledged] == [10, 20, 30, 31]
    for point in range(len(log.operations) + 1):
        folder = in_memory / str(point)
        folder.mkdir()
        left = samples_after(folder, files_at(log, point, fate), keys)
        assert left >= log.promised_at(point), f"{fate}, after operation {point}"
        shutil.rmtree(folder)


def test_the_cut_would_show_a_writer_that_does_not_sync(tmp_path):
    log, keys = made(tmp_path / "record.db", "off")
    folder = tmp_path / "cut"
    folder.mkdir()
    point = log.acknowledged[1][0]
    assert samples_after(folder, files_at(log, point, "all written"), keys) == 20
    shutil.rmtree(folder)
    folder.mkdir()
    assert samples_after(folder, files_at(log, point, "unsynced lost"), keys) < 20
