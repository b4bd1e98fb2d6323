"""Joints are found by what the record says of them; a summary that says something else is noticed."""

from dataclasses import replace

import apsw
import pytest

from logger.domain.joint_query import JointGroup, JointOrder, JointQuery
from logger.domain.record import Claim
from logger.store import summary
from logger.store.search import count_joints, find_joints
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, header, open_writer


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "record.db"
    writer = open_writer(path)
    plan = '{"material": "PE100", "outside_diameter_mm": 110.0}'
    writer.open_joint(replace(header(1, "A-001"), plan_json=plan, rig_json='{"rig": {"name": "Heron"}}'))
    writer.open_joint(replace(header(2, None), operator="Ö. Übel"))
    writer.open_joint(replace(header(3, "B-7", "Moorfeld"), procedure="wis-4-32-08"))
    writer.close_joint(header(1).uuid, FINISHED, EMITTED)
    writer.claim_joint(
        header(2).uuid, Claim(number="A-9", project="Moorfeld", claimed_by="R.", reason="late", at=ENDED)
    )
    writer.close()
    return path


def numbers(path, **given):
    return [record.number for record in find_joints(path, JointQuery(**given))]


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({}, ["B-7", "A-9", "A-001"]),
        ({"project": "Moorfeld"}, ["B-7", "A-9"]),
        ({"operator": "Ö. Übel"}, ["A-9"]),
        ({"verdict": "nonconforming"}, ["A-001"]),
        ({"verdict": "open"}, ["B-7", "A-9"]),
        ({"rig": "Heron"}, ["A-001"]),
        ({"material": "PE100", "outside_diameter_mm": 110.0}, ["A-001"]),
        ({"material": "PE100", "outside_diameter_mm": 63.0}, []),
        ({"procedure": "wis-4-32-08"}, ["B-7"]),
        ({"finding": "changeover"}, ["A-001"]),
        ({"finding": "plate.temperature.low"}, ["A-001"]),
        ({"finding": "duration"}, []),
        ({"text": "a-00"}, ["A-001"]),
        ({"text": "heron"}, ["A-001"]),
        ({"origin": "live"}, []),
        ({"since": "2031-05-04"}, ["B-7", "A-9", "A-001"]),
        ({"until": "2031-05-04"}, []),
        ({"order": JointOrder.NUMBER}, ["A-001", "A-9", "B-7"]),
        ({"limit": 1, "offset": 1}, ["A-9"]),
        ({"limit": None, "offset": 2}, ["A-001"]),
    ],
)
def test_each_filter(path, given, expected):
    assert numbers(path, **given) == expected


def test_the_summary_says_what_the_evidence_says_and_a_changed_one_is_noticed(path, tmp_path):
    copy = tmp_path / "record.db"
    copy.write_bytes(path.read_bytes())
    connection = apsw.Connection(str(copy))
    assert summary.is_true(connection)
    connection.execute("UPDATE summary SET verdict = 'conforming' WHERE number = 'A-001'")
    assert not summary.is_true(connection)
    connection.execute("DELETE FROM summary")
    assert not summary.is_true(connection)
    connection.close()


def test_counting_by_group(path):
    every = JointQuery(limit=1)
    assert count_joints(path, every, JointGroup.PROJECT) == [
        ("Lindental", {"nonconforming": 1}),
        ("Moorfeld", {"open": 2}),
    ]
    assert count_joints(path, every, JointGroup.MONTH) == [("2031-05", {"nonconforming": 1, "open": 2})]
    assert count_joints(path, JointQuery(finding="plate"), JointGroup.RIG) == [
        ("Heron", {"nonconforming": 1})
    ]
