"""What goes into the record comes out of it, and in which order and under which name."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Verdict
from logger.domain.record import Claim, EventKind, HowEnded, JointEnd, RecorderOff, RecordEvent
from logger.errors import InputError, StoreError
from logger.store.reader import Reader
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


@pytest.fixture
def path(tmp_path):
    return tmp_path / "folder with space" / "record.db"


@pytest.fixture
def writer(path):
    writer = open_writer(path)
    yield writer
    writer.close()


@pytest.fixture
def reader(writer, path):
    with Reader(path) as reader:
        yield reader


def test_header_samples_events_and_judgement_come_back_as_they_went_in(writer, reader):
    events = [
        RecordEvent(kind=EventKind.PHASE, code="bead_up", t_ms=1200, at=OPENED),
        RecordEvent(
            kind=EventKind.COMMAND, code="abort", at=OPENED, parameters={"by": "R. Amsel", "after_s": 1.5}
        ),
    ]
    assert writer.open_joint(HEADER) == 1
    for index in range(250):
        writer.append(HEADER.uuid, sample(index))
    for event in events:
        writer.append_event(HEADER.uuid, event)
    writer.flush()
    assert reader.samples(HEADER.uuid) == [sample(index) for index in range(250)]
    writer.append(HEADER.uuid, sample(250))
    writer.close_joint(HEADER.uuid, FINISHED, EMITTED)

    record = reader.joint(HEADER.uuid)
    assert record.header == HEADER
    assert (record.number, record.project, record.attempt) == ("A-001", "Lindental", 1)
    assert record.previous_uuid is None
    assert record.end == FINISHED
    assert record.verdict is Verdict.NONCONFORMING
    assert record.judgement_text == EMITTED.text
    assert reader.samples(HEADER.uuid) == [sample(index) for index in range(251)]
    assert reader.events(HEADER.uuid) == events
    assert reader.events(None) == []


def test_phases_and_findings_are_rows_with_nulls_where_nothing_was_seen(writer, reader):
    writer.open_joint(HEADER)
    writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
    query = reader._connection.execute
    assert query("SELECT phase, start_s, end_s, end_reason FROM phase ORDER BY rowid").fetchall() == [
        ("bead_up", 0.0, 10.0, ""),
        ("heat_soak", 10.0, 20.0, ""),
        ("changeover", 20.0, 30.0, ""),
        ("pressure_build_up", 30.0, 40.0, ""),
        ("cooling", 40.0, None, "trace_ends"),
    ]
    assert query('SELECT seq, code, severity, measured, "limit", unit FROM finding').fetchall() == [
        (1, "changeover.duration.long", "fault", 9.1, 6.0, "s"),
        (2, "plate.temperature.low", "remark", None, None, "degC"),
    ]


def test_sealing_prunes_the_journal_of_that_joint_alone(writer, reader):
    other = header(2, "A-002")
    writer.open_joint(HEADER)
    writer.open_joint(other)
    writer.append(HEADER.uuid, sample(0))
    writer.append(other.uuid, sample(1))
    writer.close_joint(HEADER.uuid, FINISHED, None)
    assert reader._connection.execute("SELECT joint_uuid FROM journal").fetchall() == [(other.uuid,)]
    assert reader.samples(other.uuid) == [sample(1)]


def test_a_long_joint_is_sealed_in_blocks_of_bounded_size(writer, reader):
    writer.open_joint(HEADER)
    samples = [sample(index) for index in range(9_002)]
    for start in range(0, len(samples), 3_000):
        for one in samples[start : start + 3_000]:
            writer.append(HEADER.uuid, one)
        writer.flush()
    writer.close_joint(HEADER.uuid, FINISHED, None)
    blocks = reader._connection.execute("SELECT seq, first_ms, last_ms, sample_count FROM joint_block")
    assert blocks.fetchall() == [(1, 0, 899_900, 9_000), (2, 900_000, 900_100, 2)]
    assert reader.samples(HEADER.uuid) == samples


def test_a_repeated_number_becomes_the_next_attempt_linked_to_the_one_before(writer, reader):
    attempts = [writer.open_joint(header(index)) for index in (1, 2, 3)]
    elsewhere = writer.open_joint(header(4, project="Auwald"))
    assert (attempts, elsewhere) == ([1, 2, 3], 1)
    assert reader.joint(header(2).uuid).previous_uuid == header(1).uuid
    assert reader.joint("A-001", project="Lindental").header.uuid == header(3).uuid
    assert reader.joint("A-001", project="Lindental", attempt=1).header.uuid == header(1).uuid
    with pytest.raises(InputError, match="several projects: Auwald, Lindental"):
        reader.joint("A-001")


def test_an_unknown_number_is_refused_with_the_nearest_one(writer, reader):
    with pytest.raises(InputError, match="no named joint"):
        reader.joint("A-001")
    writer.open_joint(header(1, "A-001"))
    writer.open_joint(header(2, "B-700"))
    with pytest.raises(InputError, match=r"joint A-01 is not in the record .*nearest: A-001"):
        reader.joint("A-01")
    with pytest.raises(InputError, match="attempt 4"):
        reader.joint("A-001", attempt=4)


def test_the_beginning_of_an_id_will_do_as_a_list_shows_it(writer, reader):
    ids = ["5a5a4f78-372f-4bbb-a504-b5736e70cf83", "5a5a4f78-372f-4bbb-a504-c0de00000000"]
    writer.open_joint(replace(header(1), uuid=ids[0]))
    assert reader.joint("5a5a4f78").header.uuid == ids[0]
    assert reader.joint("5A5A4F78-37").header.uuid == ids[0]
    with pytest.raises(InputError, match="joint 5a5a4f7 is not in the record"):
        reader.joint("5a5a4f7")
    with pytest.raises(InputError, match="joint 5a5a4f79 is not in the record"):
        reader.joint("5a5a4f79")
    writer.open_joint(replace(header(2), uuid=ids[1]))
    with pytest.raises(InputError, match="several joints have an id that begins with 5a5a4f78"):
        reader.joint("5a5a4f78")
    assert reader.joint(ids[1][:26]).header.uuid == ids[1]
    writer.open_joint(header(3, "5a5a4f78"))
    assert reader.joint("5a5a4f78").header.uuid == header(3).uuid, "a number governs"


def test_an_unnamed_joint_is_claimed_once_and_counts_as_an_attempt(writer, reader):
    claim = Claim(number="A-001", project="Lindental", claimed_by="R. Amsel", reason="forgot", at=ENDED)
    unnamed = header(2, None)
    writer.open_joint(header(1))
    writer.open_joint(unnamed)
    writer.open_joint(header(3, None))
    assert reader.joint(unnamed.uuid).number is None
    assert writer.claim_joint(unnamed.uuid, claim) == 2
    assert writer.claim_joint(unnamed.uuid, claim) == 2
    record = reader.joint("A-001")
    assert (record.header, record.claim, record.previous_uuid) == (unnamed, claim, header(1).uuid)
    assert writer.open_joint(header(4)) == 3
    for taken in (unnamed.uuid, header(1).uuid):
        with pytest.raises(StoreError, match="has a name already: A-001"):
            writer.claim_joint(taken, Claim(
                number="C-9", project="Lindental", claimed_by="R. Amsel", reason="again", at=ENDED
            ))  # fmt: skip
    with pytest.raises(StoreError, match="not in the record"):
        writer.claim_joint("nowhere", claim)


def test_joints_are_listed_last_first_with_origin_verdict_and_end(writer, reader):
    writer.open_joint(header(1))
    writer.open_joint(header(2, "B-1", "Auwald"))
    writer.close_joint(header(1).uuid, FINISHED, EMITTED)
    listed = reader.list_joints()
    assert [record.number for record in listed] == ["B-1", "A-001"]
    assert [record.verdict for record in listed] == [None, Verdict.NONCONFORMING]
    assert [record.header.origin for record in listed] == [HEADER.origin] * 2
    assert [record.number for record in reader.list_joints(project="Lindental")] == ["A-001"]
    assert [record.number for record in reader.list_joints(limit=1)] == ["B-1"]


def test_a_joint_is_never_overwritten(writer, reader):
    assert writer.open_joint(HEADER) == 1
    assert writer.open_joint(HEADER) == 1
    with pytest.raises(StoreError, match="already"):
        writer.open_joint(header(1, "Z-1"))
    writer.close_joint(HEADER.uuid, FINISHED, None)
    writer.close_joint(HEADER.uuid, FINISHED, None)
    with pytest.raises(StoreError, match="has ended already: finished"):
        writer.close_joint(HEADER.uuid, JointEnd(how=HowEnded.ABORTED, reason="", at=ENDED), None)
    with pytest.raises(StoreError, match="already"):
        writer.open_joint(HEADER)
    assert reader.joint(HEADER.uuid).end == FINISHED


def test_only_an_open_joint_takes_samples_and_events(writer):
    event = RecordEvent(kind=EventKind.GAP, code="recorder_stopped")
    with pytest.raises(StoreError, match="not open"):
        writer.append(HEADER.uuid, sample(0))
    writer.open_joint(HEADER)
    writer.append(HEADER.uuid, sample(0))
    writer.close_joint(HEADER.uuid, FINISHED, None)
    with pytest.raises(StoreError, match="not open"):
        writer.append(HEADER.uuid, sample(1))
    with pytest.raises(StoreError, match="not open"):
        writer.append_event(HEADER.uuid, event)
    writer.append_event(None, event)
    writer.flush()


def test_nothing_is_recorded_outside_a_run(path):
    from logger.store.writer import Writer

    writer = Writer(path, at=OPENED)
    with pytest.raises(StoreError, match="no recorder run"):
        writer.open_joint(HEADER)
    with pytest.raises(StoreError, match="no recorder run"):
        writer.append_event(None, RecordEvent(kind=EventKind.HEALTH, code="lost"))
    writer.close()
    with pytest.raises(StoreError, match="closed"):
        writer.flush()


def test_after_a_restart_the_open_joints_are_found_and_go_on(path):
    writer = open_writer(path)
    writer.open_joint(header(1))
    writer.open_joint(header(2, "A-002"))
    writer.open_joint(header(3, "A-003"))
    for index in range(5):
        writer.append(header(1).uuid, sample(index))
    writer.close_joint(header(3, "A-003").uuid, FINISHED, None)
    writer.close()

    writer = open_writer(path)
    with Reader(path) as reader:
        found = reader.open_joints()
        assert [(joint.record.header, joint.last_t_ms, joint.sample_count) for joint in found] == [
            (header(1), 400, 5),
            (header(2, "A-002"), None, 0),
        ]
        gap = RecordEvent(kind=EventKind.GAP, code="recorder_stopped", at=ENDED, t_ms=400)
        writer.append_event(header(1).uuid, gap)
        writer.append(header(1).uuid, sample(90))
        writer.close_joint(header(1).uuid, FINISHED, None)
        assert reader.samples(header(1).uuid) == [*(sample(index) for index in range(5)), sample(90)]
        assert reader.events(header(1).uuid) == [gap]
        assert [joint.record.number for joint in reader.open_joints()] == ["A-002"]
    writer.close()


def test_runs_signs_of_life_and_intervals_of_recorder_off(path):
    writer = open_writer(path)
    with Reader(path) as reader:
        assert reader.last_run().run == RUN
        assert (reader.last_run().ended, reader.last_run().alive) == (None, None)
        writer.alive(OPENED)
        writer.alive(ENDED)
        assert reader.last_run().alive == ENDED
        writer.end_run(ENDED, "stopped by the operator")
        assert (reader.last_run().ended, reader.last_run().end_reason) == (ENDED, "stopped by the operator")
        off = RecorderOff(from_utc=OPENED.utc, to_utc=ENDED.utc, reason="no sign of life")
        writer.record_off(off)
        assert reader.recorder_off() == [off]
    writer.close()


def test_a_new_record_has_no_run(path):
    from logger.store.writer import Writer

    Writer(path, at=OPENED).close()
    with Reader(path) as reader:
        assert reader.last_run() is None
        assert reader.open_joints() == []


def test_a_joint_tells_software_clock_and_the_configuration_it_was_recorded_by(writer, reader):
    writer.open_joint(HEADER)
    record = reader.joint(HEADER.uuid)
    assert record.run == RUN
    assert record.header.config_sha256 == HEADER.config_sha256
    for change in ({"rig_toml": "[rig]\n\n"}, {"joint_toml": None}, {"plan_json": "{}"}):
        assert replace(HEADER, **change).config_sha256 != HEADER.config_sha256
