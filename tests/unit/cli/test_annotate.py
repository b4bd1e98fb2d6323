"""Corrections and attachments: appended, sealed, and shown beside what stood there."""

import hashlib
import json
from pathlib import Path

import pytest

from logger.store.attachments import attached_to
from logger.store.reader import Reader
from logger.store.verify import verify_record
from tests.unit.cli.command import command_of
from tests.unit.store.record_values import EMITTED, FINISHED, header, open_writer, sample


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    writer.open_joint(header(1, "A-001"))
    writer.append(header(1).uuid, sample(0))
    writer.close_joint(header(1).uuid, FINISHED, EMITTED)
    writer.close()
    return path


def said(record):
    with Reader(record) as reader:
        return reader.statements_of(header(1).uuid)


def test_a_correction_is_appended_with_author_and_reason(beadwatch, record):
    words = ["joints", "correct", "A-001", "--what", "operator", "--value", "N. Holt"]
    done = beadwatch(*words, "--by", "E. Weir", "--reason", "typing error", "--store", record)
    assert done.code == 0, done.err
    (statement,) = said(record)
    assert (statement.kind, statement.author, statement.reason) == ("correction", "E. Weir", "typing error")
    assert dict(statement.body) == {"what": "operator", "value": "N. Holt"}
    with Reader(record) as reader:
        assert reader.joint("A-001").header.operator == header(1).operator
    assert verify_record(record).is_good


def test_an_attachment_is_copied_and_its_hash_is_sealed(beadwatch, record, tmp_path):
    picture = tmp_path / "bead.jpg"
    picture.write_bytes(b"\xff\xd8 a bead")
    done = beadwatch("joints", "attach", "A-001", picture, "--by", "N. Holt", "--store", record)
    assert done.code == 0, done.err
    (statement,) = said(record)
    assert statement.body["sha256"] == hashlib.sha256(picture.read_bytes()).hexdigest()
    copy = record.with_name("record.attachments") / statement.body["copy"]
    assert copy.read_bytes() == picture.read_bytes()
    assert json.dumps(dict(statement.body))


def test_a_copy_is_held_against_its_hash_backed_up_and_put_into_the_bundle(beadwatch, record, tmp_path):
    picture = tmp_path / "bead.jpg"
    picture.write_bytes(b"\xff\xd8 a bead")
    (copy,) = beadwatch(
        "joints", "attach", "A-001", picture, "--by", "N. Holt", "--store", record
    ).out.splitlines()  # fmt: skip
    verify = ("joints", "verify", "A-001", "--store", record)
    assert beadwatch(*verify).code == 0
    assert beadwatch("backup", tmp_path / "stick.db", "--store", record).code == 0
    (backed_up,) = (tmp_path / "stick.attachments").iterdir()
    assert backed_up.read_bytes() == picture.read_bytes()
    Path(copy).write_bytes(b"another bead")
    ran = beadwatch(*verify)
    assert (ran.code, "the copy of bead.jpg is not the file that was attached" in ran.out) == (5, True)
    assert [one.data() for one in attached_to(record)] == [None]
    Path(copy).unlink()
    ran = beadwatch(*verify)
    assert (ran.code, "the copy of bead.jpg is not here" in ran.out) == (0, True)
    assert beadwatch("restore", tmp_path / "stick.db", "--store", tmp_path / "again.db").code == 0
    (again,) = attached_to(tmp_path / "again.db")
    assert again.data() == picture.read_bytes()


def test_a_file_that_is_not_there_is_named(beadwatch, record, tmp_path):
    done = beadwatch("joints", "attach", "A-001", tmp_path / "gone.jpg", "--by", "N", "--store", record)
    assert done.code == 3
    assert "gone.jpg" in done.err
    assert said(record) == []
