"""The drill: back up while recording, lose the record, restore, go on."""

import pytest

from logger.errors import StoreError
from logger.store.backup import backup, restore
from logger.store.reader import Reader
from logger.store.verify import verify_record
from tests.unit.store.record_values import EMITTED, FINISHED, HEADER, open_writer, sample
from tests.unit.store.sealed_records import SECOND, Crime, live, make_record, published


def test_back_up_while_recording_lose_the_disk_restore_and_go_on(tmp_path):
    path, copy = tmp_path / "record.db", tmp_path / "stick" / "copy.db"
    copy.parent.mkdir()
    what = make_record(path, joint_count=2, sample_count=650)
    writer = open_writer(path)
    writer.open_joint(seventh := live(7))
    for index in range(700):
        writer.append(seventh.uuid, sample(index))
    writer.flush()
    found = backup(path, copy)
    assert found.is_good
    assert found.joint_count == 3
    assert [file.name for file in copy.parent.iterdir()] == ["copy.db"]
    assert SECOND.verify([copy], what.keys, [str(what.head)])[0] == []
    writer.append(seventh.uuid, sample(700))
    writer.close()

    for file in tmp_path.glob("record.db*"):
        if file.is_file():
            file.unlink()
    assert restore(copy, path).is_good
    writer = open_writer(path)
    with Reader(path) as reader:
        assert reader.samples(seventh.uuid) == [sample(index) for index in range(700)]
        assert reader.chain_head().seq > what.head.seq
    writer.append(seventh.uuid, sample(800))
    writer.close_joint(seventh.uuid, FINISHED, EMITTED)
    writer.close()
    assert verify_record(path, trusted=what.keys, heads=[what.head]).faults == []


def test_nothing_is_overwritten_and_nothing_half_made_stays(tmp_path):
    path, copy = tmp_path / "record.db", tmp_path / "copy.db"
    make_record(path, joint_count=1, sample_count=5)
    backup(path, copy)
    before = copy.read_bytes()
    with pytest.raises(StoreError, match="a backup overwrites nothing"):
        backup(path, copy)
    with pytest.raises(StoreError, match="a restore overwrites nothing"):
        restore(copy, path)
    assert copy.read_bytes() == before
    (tmp_path / "text.db").write_text("no record")
    with pytest.raises(StoreError, match=r"text\.db"):
        restore(tmp_path / "text.db", tmp_path / "new.db")
    with pytest.raises(StoreError, match="no such record"):
        backup(tmp_path / "missing.db", tmp_path / "new.db")
    with pytest.raises(StoreError):
        backup(path, tmp_path / "no folder" / "new.db")
    assert not list(tmp_path.glob("new.db*.part"))
    assert not (tmp_path / "new.db").exists()


def test_restoring_over_a_running_recorder_is_refused(tmp_path):
    path, copy = tmp_path / "record.db", tmp_path / "copy.db"
    writer = open_writer(path)
    writer.open_joint(HEADER)
    backup(path, copy)
    with pytest.raises(StoreError, match="already open for writing by process"):
        restore(copy, path)
    writer.close()


def test_a_damaged_record_is_still_copied_and_said_to_be_damaged(tmp_path):
    path, copy = tmp_path / "record.db", tmp_path / "copy.db"
    make_record(path, joint_count=1, sample_count=5)
    with Crime(path) as db:
        db.execute("UPDATE finding SET severity = 'remark'")
    assert not backup(path, copy).is_good
    assert copy.exists()
    assert published(path).head == published(copy).head
