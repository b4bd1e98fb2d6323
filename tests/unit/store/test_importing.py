# ruff: noqa: S608 - table names are written here
"""An office store takes over what other records sealed, as they sealed it, or says why not."""

from dataclasses import replace

import pytest

from logger.domain.record import Claim
from logger.domain.seal import SealState
from logger.errors import StoreError
from logger.store.reader import Reader
from logger.store.sealed import SealedJoint, verify_sealed
from logger.store.verify import verify_record
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, RUN, header, open_writer, sample
from tests.unit.store.sealed_records import SECOND, Crime, live, make_record, published, remark


@pytest.fixture
def rig(tmp_path):
    """The record of a rig with two live joints."""
    path = tmp_path / "rig.db"
    make_record(path, joint_count=2, sample_count=650)
    return path


@pytest.fixture
def office_path(tmp_path):
    return tmp_path / "office.db"


@pytest.fixture
def office(office_path):
    writer = open_writer(office_path)
    yield writer
    writer.close()


def sealed_of(path, index: int) -> SealedJoint:
    with Reader(path) as reader:
        return SealedJoint.read(reader.sealed_joint(live(index).uuid))


def test_joints_come_over_whole_and_both_verifiers_prove_them(rig, office, office_path):
    for index in (1, 2):
        assert office.import_joint(sealed_of(rig, index), ENDED) > 3
    assert office.import_joint(sealed_of(rig, 1), ENDED) == 0
    keys = published(rig).keys + published(office_path).keys
    with Reader(office_path) as here, Reader(rig) as there:
        assert here.joint("K-001") == there.joint("K-001")
        assert here.samples(live(2).uuid) == there.samples(live(2).uuid)
        assert here.events(live(2).uuid) == there.events(live(2).uuid)
        assert here.statements_of(live(2).uuid) == there.statements_of(live(2).uuid)
        seal = here.seal_of(live(1).uuid)
        assert (seal.state, seal.is_local, seal.use) == (SealState.SEALED, False, "live")
        assert here.sealed_joint(live(1).uuid) == there.sealed_joint(live(1).uuid)
        head = here.chain_head()
    assert verify_record(office_path, trusted=keys, heads=[head]).faults == []
    assert SECOND.verify([office_path], keys, [str(head)])[0] == []


def test_the_office_says_more_about_it_and_the_rig_too(rig, office, office_path):
    office.import_joint(sealed_of(rig, 1), ENDED)
    office.append_statement(remark(live(1).uuid, "seen in the office"))
    at_the_rig = open_writer(rig)
    at_the_rig.append_statement(remark(live(1).uuid, "cut out"))
    at_the_rig.close()
    assert office.import_joint(sealed_of(rig, 1), ENDED) == 1
    with Reader(office_path) as reader:
        texts = [said.body["text"] for said in reader.statements_of(live(1).uuid)]
        text = reader.sealed_joint(live(1).uuid)
    assert texts == ["wind from the west", "bead looked at", "seen in the office", "cut out"]
    assert verify_record(office_path).faults == []
    assert verify_sealed(text).faults == []
    assert SECOND.verify([office_path])[0] == []


def test_a_joint_taken_away_after_import_is_missed(rig, office, office_path):
    office.import_joint(sealed_of(rig, 1), ENDED)
    office.flush()
    with Crime(office_path) as db:
        for table in (
            "event",
            "joint_block",
            "phase",
            "finding",
            "verdict",
            "joint_end",
            "statement",
            "link",
        ):
            db.execute(f"DELETE FROM {table} WHERE joint_uuid = ?", (live(1).uuid,))
        db.execute("DELETE FROM joint")
    assert "import.missing" in {fault.code for fault in verify_record(office_path).faults}
    assert SECOND.verify([office_path])[0]


def test_the_recorder_does_not_take_an_imported_run_for_its_own(rig, office, office_path):
    office.import_joint(sealed_of(rig, 1), ENDED)
    office.import_joint(sealed_of(rig, 2), ENDED)
    with Reader(office_path) as reader:
        assert reader.last_run().run == RUN
        assert reader._connection.execute("SELECT count(*) FROM recorder_run").get == 2
        assert reader._connection.execute("SELECT count(*) FROM imported_run").get == 1
    office.open_joint(header(70, "A-070"))
    office.append(header(70).uuid, sample(0))
    office.close_joint(header(70).uuid, FINISHED, EMITTED)
    assert verify_record(office_path).faults == []


def test_what_does_not_go_with_the_office_is_refused_with_the_reason(rig, office, tmp_path):
    joint = sealed_of(rig, 1)
    office.open_joint(live(50, "K-002"))
    with pytest.raises(StoreError, match="K-002, attempt 1, of project Lindental is here already, as 0000"):
        office.import_joint(sealed_of(rig, 2), ENDED)
    office.import_joint(joint, ENDED)
    changed = {**joint.table_rows, "verdict": []}
    with pytest.raises(StoreError, match="is here already and differs"):
        office.import_joint(replace(joint, table_rows=changed), ENDED)
    other = tmp_path / "other.db"
    make_record(other, joint_count=1, sample_count=5)
    with pytest.raises(StoreError, match="is here already and differs"):
        office.import_joint(sealed_of(other, 1), ENDED)


def test_the_second_attempt_waits_for_the_first(tmp_path, office):
    path = tmp_path / "rig.db"
    writer = open_writer(path)
    for index in (1, 2):
        writer.open_joint(live(index, "K-007"))
        writer.close_joint(live(index).uuid, FINISHED, EMITTED)
    writer.close()
    with pytest.raises(StoreError, match=r"K-007, attempt 2, .* which is not here yet"):
        office.import_joint(sealed_of(path, 2), ENDED)
    for index in (1, 2):
        assert office.import_joint(sealed_of(path, index), ENDED) == 2


def test_a_claim_that_came_later_comes_over(tmp_path, office, office_path):
    path = tmp_path / "rig.db"
    unnamed = replace(live(1), number=None)
    writer = open_writer(path)
    writer.open_joint(unnamed)
    writer.close_joint(unnamed.uuid, FINISHED, EMITTED)
    office.import_joint(sealed_of(path, 1), ENDED)
    writer.claim_joint(
        unnamed.uuid,
        Claim(number="K-008", project="Lindental", claimed_by="R. Amsel", reason="forgot", at=ENDED),
    )
    assert office.import_joint(sealed_of(path, 1), ENDED) == 1
    writer.close()
    with Reader(office_path) as reader:
        assert reader.joint("K-008").claim.claimed_by == "R. Amsel"
    assert verify_record(office_path).faults == []


def test_another_key_for_the_same_record_is_refused(rig, office):
    office.import_joint(sealed_of(rig, 1), ENDED)
    (rig.with_name("rig.db.keys") / "live.pem").unlink()
    writer = open_writer(rig)
    writer.open_joint(live(9))
    writer.close_joint(live(9).uuid, FINISHED, EMITTED)
    writer.close()
    with pytest.raises(StoreError, match="signed by another key than others of its record"):
        office.import_joint(sealed_of(rig, 9), ENDED)
    found = {fault.code for fault in verify_record(rig).faults}
    assert found == {"key.changed"}


def test_a_record_that_lost_a_joint_does_not_get_it_back_by_import(rig):
    joint = sealed_of(rig, 2)
    with Crime(rig) as db:
        db.execute("DELETE FROM joint WHERE uuid = ?", (joint.uuid,))
    writer = open_writer(rig)
    with pytest.raises(StoreError, match="was made in this record and is gone from it"):
        writer.import_joint(joint, ENDED)
    writer.close()
