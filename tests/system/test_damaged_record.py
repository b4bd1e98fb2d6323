"""A recorder whose record is damaged starts all the same, with a fresh one, and says so."""

import pytest

from tests.system.processes import Recorder, beadwatch, tcp_bus

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]


def test_a_damaged_record_is_an_alarm_and_not_the_end(folder):
    recorder = Recorder(folder, tcp_bus(1))
    garbage = b"SQLite format 3\x00" + bytes(range(256)) * 64
    recorder.store.write_bytes(garbage)
    with recorder.recording(joint_file=None):
        (alarm,) = recorder.state().alarms
        told = beadwatch("state", "--socket", recorder.socket)
    assert alarm.code == "record.damaged"
    (aside,) = folder.glob("record.db.damaged-*")
    assert aside.read_bytes() == garbage
    assert str(aside) in alarm.text
    assert str(aside) in told.stdout
    assert "record.damaged" in recorder.log.read_text(encoding="utf-8")
