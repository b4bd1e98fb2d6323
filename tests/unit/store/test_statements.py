"""Statements are appended to open and ended joints alike, and come back as they were made."""

from dataclasses import replace

import pytest

from logger.domain.record import Statement
from logger.errors import StoreError
from logger.store.reader import Reader
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, HEADER, OPENED, open_writer

REMARK = Statement(
    kind="remark",
    author="R. Amsel",
    reason="asked by the inspector",
    at=ENDED,
    at_s=12.5,
    body={"text": "Wind from the Süden", "values": [1, 2.5, None, True]},
    joint_uuid=HEADER.uuid,
)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.db"


@pytest.fixture
def writer(path):
    writer = open_writer(path)
    writer.open_joint(HEADER)
    yield writer
    writer.close()


def test_statements_about_an_open_and_an_ended_joint_and_about_none(writer, path):
    later = replace(REMARK, kind="correction", at_s=None)
    general = replace(REMARK, joint_uuid=None, kind="figures.confirmed", at=OPENED)
    assert writer.append_statement(REMARK) == 1
    writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
    assert writer.append_statement(later) == 2
    assert writer.append_statement(general) == 1
    with Reader(path) as reader:
        (chain,) = {s.chain for s in reader.statements_of(HEADER.uuid)}
        assert len(chain) == 32
        assert reader.statements_of(HEADER.uuid) == [
            replace(REMARK, seq=1, chain=chain),
            replace(later, seq=2, chain=chain),
        ]
        assert reader.statements_of(None) == [replace(general, seq=1, chain=chain)]


def test_a_repeated_call_stores_nothing_twice(writer, path):
    assert [writer.append_statement(REMARK) for _ in range(3)] == [1, 1, 1]
    assert writer.append_statement(replace(REMARK, at=OPENED)) == 2
    with Reader(path) as reader:
        assert [s.at for s in reader.statements_of(HEADER.uuid)] == [ENDED, OPENED]


def test_what_cannot_be_a_statement_is_refused_and_leaves_nothing(writer, path):
    for wrong, why in [
        (replace(REMARK, joint_uuid="nowhere"), "joint nowhere is not in the record"),
        (replace(REMARK, body={"x": float("nan")}), 'statement "remark": .*JSON'),
        (replace(REMARK, body={"x": object()}), 'statement "remark": .*JSON'),
        (replace(REMARK, kind=""), "kind"),
    ]:
        with pytest.raises(StoreError, match=why):
            writer.append_statement(wrong)
    with Reader(path) as reader:
        assert reader.statements_of(HEADER.uuid) == []
