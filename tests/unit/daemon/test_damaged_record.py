"""A record that is damaged when the recorder starts: set aside whole, a fresh one begun, and said so."""

import apsw
import pytest

from logger.daemon.run import _open
from logger.errors import StoreError
from logger.store.reader import Reader
from logger.store.writer import Writer
from tests.unit.daemon.bench import SetClock
from tests.unit.store.record_values import EMITTED, FINISHED, HEADER, OPENED, RUN, sample


@pytest.fixture
def record(tmp_path):
    """A record with one joint, closed in order."""
    path = tmp_path / "record.db"
    writer = Writer(path, at=OPENED)
    writer.start_run(RUN)
    writer.open_joint(HEADER)
    for index in range(3000):
        writer.append(HEADER.uuid, sample(index))
    writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
    writer.close()
    return path


def asides(path):
    return sorted(p for p in path.parent.glob("record.db.damaged-*") if not p.name.endswith(("-wal", "-shm")))


def overwritten(path, at, size):
    data = bytearray(path.read_bytes())
    data[at : at + size] = b"\xa5" * size
    path.write_bytes(data)
    return bytes(data)


@pytest.mark.parametrize(("at", "size"), [(0, 16), (4096, 4096), (8192, 2048)])
def test_it_is_set_aside_byte_for_byte_and_a_fresh_one_is_begun(record, at, size):
    damaged = overwritten(record, at, size)
    writer, damage = _open(record, SetClock())
    writer.start_run(RUN)
    writer.close()
    (aside,) = asides(record)
    assert aside.name == "record.db.damaged-20310504T070000Z"
    assert aside.read_bytes() == damaged
    assert "damaged" in damage["error"]
    assert damage["aside"] == str(aside)
    with Reader(record) as reader:
        assert reader.list_joints() == []


def test_a_second_one_in_the_same_second_gets_a_name_of_its_own(record):
    for _ in range(2):
        overwritten(record, 0, 16)
        writer, _damage = _open(record, SetClock())
        writer.close()
    assert len(asides(record)) == 2


def test_a_sound_record_is_opened_as_it_is(record):
    writer, damage = _open(record, SetClock())
    writer.close()
    assert damage == {}
    assert asides(record) == []
    with Reader(record) as reader:
        assert len(reader.list_joints()) == 1


def test_a_record_that_another_writes_and_a_file_of_others_are_left_alone(record, tmp_path):
    writer = Writer(record, at=OPENED)
    with pytest.raises(StoreError, match="already open"):
        _open(record, SetClock())
    writer.close()
    other = tmp_path / "other.db"
    connection = apsw.Connection(str(other))
    connection.execute("CREATE TABLE mine (a)")
    connection.close()
    with pytest.raises(StoreError, match="not a Beadwatch record"):
        _open(other, SetClock())
    assert asides(record) == []
    assert list(tmp_path.glob("other.db.damaged-*")) == []
