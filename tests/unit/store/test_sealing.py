"""What is sealed when, with which key, and what is never sealed."""

import json
from dataclasses import replace

import apsw
import pytest

from logger.domain.record import EventKind, JointEnd, RecordEvent
from logger.domain.rig import Origin
from logger.domain.seal import ChainHead, SealState
from logger.store import rows
from logger.store.connection import open_for_writing
from logger.store.keys import Keys, KeyUse, fingerprint_of
from logger.store.reader import Reader
from logger.store.schema import MIGRATIONS, migrate
from logger.store.verify import verify_record
from logger.store.writer import Writer
from tests.unit.store.record_values import (
    EMITTED,
    ENDED,
    FINISHED,
    HEADER,
    OPENED,
    RUN,
    header,
    open_writer,
    sample,
)
from tests.unit.store.sealed_records import SECOND, Crime, live, remark


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.db"


def kinds(path, uuid: str) -> list[str]:
    with Reader(path) as reader:
        links = reader._connection.execute("SELECT body FROM link WHERE joint_uuid = ? ORDER BY seq", (uuid,))
        return [json.loads(body)["kind"] for (body,) in links]


def codes(path) -> set[str]:
    """What both verifiers find; they must agree that there is something or nothing."""
    first = {fault.code for fault in verify_record(path).faults}
    assert bool(first) == bool(SECOND.verify([path])[0])
    return first


def test_a_joint_is_signed_when_it_opens_once_a_minute_and_at_its_end(path):
    writer = open_writer(path)
    writer.open_joint(HEADER)
    counts = []
    for index in range(2_000):
        writer.append(HEADER.uuid, sample(index))
        if index % 10 == 9:
            writer.flush()
            counts.append(len(kinds(path, HEADER.uuid)))
    assert kinds(path, HEADER.uuid) == ["open", "minute", "minute", "minute"]
    assert [counts.index(k) for k in (2, 3, 4)] == [60, 120, 180], "the commit in which a minute is over"
    notes = {note.code: note.parameters for note in verify_record(path).notes}
    assert notes["samples.unsealed"]["count"] == 2_000 - 1_810
    assert codes(path) == set()
    writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
    assert kinds(path, HEADER.uuid)[-1] == "end"
    assert codes(path) == set()
    assert verify_record(path).notes == []
    with Reader(path) as reader:
        seal = reader.seal_of(HEADER.uuid)
        assert (seal.state, seal.minute_count, seal.use) == (SealState.SEALED, 3, "demonstration")
        assert ChainHead.read(str(seal.end)) == replace(seal.end, utc="")
        assert reader.chain_head() == seal.end
    writer.close()


@pytest.mark.parametrize("how", ["closed", "left"])
def test_the_chain_goes_on_over_a_restart(path, how):
    """Left: the file is copied as it is, as after a power cut."""
    writer = open_writer(path)
    joint = live(1)
    writer.open_joint(joint)
    for index in range(900):
        writer.append(joint.uuid, sample(index))
    writer.flush()
    if how == "left":
        other = path.with_name("copy.db")
        connection = apsw.Connection(str(path))
        connection.execute("VACUUM INTO ?", (str(other),))
        connection.close()
        path.with_name("record.db.keys").rename(other.with_name("copy.db.keys"))
        path = other
    writer.close()
    writer = open_writer(path)
    gap = RecordEvent(kind=EventKind.GAP, code="recorder_stopped", at=ENDED, t_ms=95_000)
    writer.append_event(joint.uuid, gap)
    for index in range(1_000, 1_400):
        writer.append(joint.uuid, sample(index))
    writer.close_joint(joint.uuid, FINISHED, EMITTED)
    writer.close()
    assert codes(path) == set()
    assert kinds(path, joint.uuid) == ["open", "minute", "minute", "end"]


def test_what_was_altered_while_the_recorder_was_away_is_found_though_it_is_sealed_later(path):
    writer = open_writer(path)
    writer.open_joint(live(1))
    for index in range(900):
        writer.append(live(1).uuid, sample(index))
        if index % 100 == 99:
            writer.flush()
    writer.close()
    with Crime(path) as db:
        db.execute("DELETE FROM journal WHERE seq = 3")
    writer = open_writer(path)
    writer.close_joint(live(1).uuid, FINISHED, EMITTED)
    writer.close()
    assert codes(path) == {"samples.changed"}


def test_live_and_simulated_joints_are_signed_by_different_keys(path):
    scaled = replace(live(3), time_scale=10.0)
    replayed = replace(live(4), origin=Origin.REPLAY)
    writer = open_writer(path)
    for joint in (live(1), header(2, "S-1"), scaled, replayed):
        writer.open_joint(joint)
        writer.append_statement(remark(joint.uuid, "seen"))
        writer.close_joint(joint.uuid, FINISHED, None)
    writer.close()
    keys = Keys.beside(path)
    fingerprints = {use: fingerprint_of(keys.public(use)) for use in KeyUse}
    with Reader(path) as reader:
        used = [reader.seal_of(joint.uuid).key for joint in (live(1), header(2), scaled, replayed)]
    other = fingerprints[KeyUse.DEMONSTRATION]
    assert used == [fingerprints[KeyUse.LIVE], other, other, other]
    assert len(set(fingerprints.values())) == 2
    only_live = {fault.where for fault in verify_record(path, trusted=[fingerprints[KeyUse.LIVE]]).faults}
    assert only_live == {joint.uuid for joint in (header(2), scaled, replayed)}


def record_from_before_sealing(path) -> None:
    """As the first version wrote it: one joint sealed then, one still open."""
    connection = open_for_writing(path)
    migrate(connection, "2031-05-04T06:00:00Z", MIGRATIONS[:1])
    run_id = rows.insert_run(connection, RUN)
    for index in (1, 2):
        rows.insert_joint(connection, run_id, live(index))
        rows.insert_journal(connection, live(index).uuid, 1, [sample(k) for k in range(700)])
    rows.insert_blocks(connection, live(1).uuid, iter([sample(k) for k in range(700)]), 9_000)
    rows.insert_judgement(connection, live(1).uuid, EMITTED)
    rows.insert_end(connection, run_id, live(1).uuid, FINISHED)
    event = RecordEvent(kind=EventKind.HEALTH, code="pressure.lost", at=OPENED)
    rows.insert_event(connection, 1, run_id, None, event)
    connection.close()


def test_what_is_from_before_sealing_shows_as_unsealed_and_is_never_signed(path):
    record_from_before_sealing(path)
    writer = open_writer(path)
    writer.append(live(2).uuid, sample(800))
    writer.close_joint(live(2).uuid, JointEnd(how=FINISHED.how, reason="late", at=ENDED), EMITTED)
    writer.append_statement(remark(live(1).uuid, "the old one"))
    writer.open_joint(live(3))
    writer.close_joint(live(3).uuid, FINISHED, EMITTED)
    writer.close()
    with Reader(path) as reader:
        states = [reader.seal_of(live(index).uuid).state for index in (1, 2, 3)]
    assert states == [SealState.UNSEALED, SealState.UNSEALED, SealState.SEALED]
    assert [kinds(path, live(index).uuid) for index in (1, 2, 3)] == [["statement"], [], ["open", "end"]]
    found = verify_record(path)
    assert {(fault.code, fault.where) for fault in found.faults} == {
        ("joint.unsealed", live(1).uuid),
        ("joint.unsealed", live(2).uuid),
    }
    assert {(note.code, note.parameters["table"]) for note in found.notes} == {
        ("rows.before_sealing", "recorder_run"),
        ("rows.before_sealing", "event"),
    }
    assert not [fault for fault in SECOND.verify([path])[0] if "not sealed" not in fault]


def test_a_joint_from_before_sealing_that_goes_missing_is_missed(path):
    record_from_before_sealing(path)
    Writer(path, at=OPENED).close()
    with Crime(path) as db:
        for table in ("joint_block", "phase", "finding", "verdict", "joint_end", "journal"):
            db.execute(f"DELETE FROM {table} WHERE joint_uuid = ?", (live(1).uuid,))  # noqa: S608
        db.execute("DELETE FROM joint WHERE uuid = ?", (live(1).uuid,))
    where = {fault.where for fault in verify_record(path).faults}
    assert live(1).uuid in where


def test_a_record_whose_seals_were_all_taken_is_no_old_record(path):
    """Without any link, or as an older schema, nothing passes."""
    writer = open_writer(path)
    writer.open_joint(live(1))
    writer.close_joint(live(1).uuid, FINISHED, EMITTED)
    writer.close()
    with Crime(path) as db:
        db.execute("DELETE FROM link")
    assert "record.unsealed" in codes(path)
    assert not verify_record(path).is_good


def test_events_of_the_recorder_wait_for_the_next_minute_or_link(path):
    writer = open_writer(path)
    for k in range(5):
        at = replace(OPENED, mono_ms=100_000 + 1_000 * k)
        writer.append_event(None, RecordEvent(kind=EventKind.HEALTH, code="pressure.lost", at=at))
        writer.flush()
    assert kinds(path, "") == ["genesis", "run", "minute"]
    (note,) = verify_record(path).notes
    assert (note.code, note.parameters["count"]) == ("rows.unsealed", 4)
    writer.end_run(ENDED, "stopped")
    writer.close()
    assert verify_record(path).notes == []
    assert codes(path) == set()
