"""Who vouches for the figures of a procedure: said beside every verdict made with that very file."""

import hashlib
from dataclasses import replace

import pytest

from logger.cli.dossiers import dossier_of
from logger.domain.record import EmittedJudgement
from logger.store.reader import Reader
from logger.store.verify import verify_record
from logger.wire.judgement import to_json
from logger.wording.report_text import verdict_text
from tests.system.processes import DEMO
from tests.unit.cli.command import command_of
from tests.unit.export.dossiers import dossier_of_trace
from tests.unit.store.record_values import FINISHED, header, open_writer, sample


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


@pytest.fixture
def record(tmp_path, trace_of_scenario, demo_joint_file):
    """One joint made with the procedure as it is here, and one with an earlier state of the same file."""
    judgement = dossier_of_trace(trace_of_scenario("clean"), demo_joint_file).judgement
    earlier = replace(judgement, plan=replace(judgement.plan, procedure_digest="0" * 64))
    path = tmp_path / "record.db"
    writer = open_writer(path)
    rig_toml = (DEMO / "rig.toml").read_text(encoding="utf-8")
    for number, made in enumerate((judgement, earlier), 1):
        opened = replace(header(number, f"A-00{number}"), plan_json=None, rig_toml=rig_toml)
        writer.open_joint(opened)
        writer.append(opened.uuid, sample(0))
        writer.close_joint(opened.uuid, FINISHED, EmittedJudgement(judgement=made, text=to_json(made)))
    writer.close()
    return path


def verdicts(record) -> list[str]:
    with Reader(record) as reader:
        return [verdict_text(dossier_of(reader, reader.joint(f"A-00{number}"))) for number in (1, 2)]


def test_confirmed_figures_name_who_when_and_against_what(beadwatch, record, tmp_path):
    assert verdicts(record) == ["conforming, against unverified figures"] * 2
    assert "(against unverified figures)" in beadwatch("joints", "show", "A-001", "--store", record).out
    copy = tmp_path / "own-copy.pdf"
    copy.write_bytes(b"%PDF our copy")
    words = ["procedures", "confirm", "dvs-2207-1:2015", "--document", "own copy, shelf 4", "--by", "E. Weir"]
    done = beadwatch(*words, "--copy", copy, "--store", record)
    assert done.code == 0, done.err
    first, second = verdicts(record)
    assert first.startswith("conforming, figures confirmed by E. Weir, ")
    assert first.endswith(", against own copy, shelf 4")
    assert second == "conforming, against unverified figures", "another file, though the same id"
    assert "(figures confirmed by E. Weir" in beadwatch("joints", "show", "A-001", "--store", record).out
    with Reader(record) as reader:
        (said,) = reader.statements_of(None)
        assert reader.joint("A-001").verdict == "conforming"
    assert said.body["copy_sha256"] == hashlib.sha256(copy.read_bytes()).hexdigest()
    assert verify_record(record).is_good


def test_a_procedure_that_is_not_known_cannot_be_confirmed(beadwatch, record):
    words = ["procedures", "confirm", "dvs-2207-1:2051", "--document", "x", "--by", "E. Weir"]
    done = beadwatch(*words, "--store", record)
    assert (done.code, "dvs-2207-1:2015" in done.err) == (3, True)
