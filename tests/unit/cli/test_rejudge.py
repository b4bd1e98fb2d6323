"""Stored curves judged again: the same to the byte, under another edition, with a scaling put right."""

from dataclasses import replace

import pytest

from logger.config.rig_file import rig_of
from logger.daemon.joint_files import planned_joint, rig_json
from logger.domain.record import EmittedJudgement
from logger.domain.rig import Origin
from logger.domain.scale import samples_of
from logger.judge.judge import judge
from logger.store.reader import Reader
from logger.wire.judgement import to_json
from logger.wire.plan import plan_to_json
from simulators.rig import simulate
from simulators.scenario import load_scenario
from simulators.sensors import Sensors
from tests.bench.records import _samples
from tests.system.processes import DEMO
from tests.unit.cli.command import command_of
from tests.unit.store.record_values import FINISHED, header, open_writer


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """One clean joint with its raw counts."""
    rig_toml = (DEMO / "rig.toml").read_text(encoding="utf-8")
    installation = rig_of(rig_toml, "rig.toml")
    planned = planned_joint((DEMO / "joint.toml").read_text(encoding="utf-8"), "joint.toml", installation.rig)
    raws = list(_samples(Sensors(simulate(load_scenario("clean")), seed=3)))
    judgement = judge(
        samples_of(raws, installation.rig), joint="K-117", plan=planned.plan, rig=installation.rig,
        origin=Origin.SIMULATED,
    )  # fmt: skip
    opened = replace(
        header(1, "K-117"), rig_toml=rig_toml, rig_json=rig_json(installation), joint_toml=planned.text,
        plan_json=plan_to_json(planned.plan), time_scale=1.0,
    )  # fmt: skip
    path = tmp_path_factory.mktemp("again") / "record.db"
    writer = open_writer(path, capacity=len(raws))
    writer.open_joint(opened)
    for raw in raws:
        writer.append(opened.uuid, raw)
    writer.close_joint(opened.uuid, FINISHED, EmittedJudgement(judgement=judgement, text=to_json(judgement)))
    writer.close()
    return path


def test_under_its_own_terms_it_is_the_same_to_the_byte(beadwatch, record):
    ran = beadwatch("rejudge", "K-117", "--store", record)
    assert ran.code == 0
    assert "same as the stored judgement, to the byte" in ran.err


def test_a_scaling_put_right_changes_the_opinion_and_not_the_verdict(beadwatch, record, tmp_path):
    """The transmitter was one of 320 bar, the rig file said 250: every pressure was a fifth too low."""
    corrected = tmp_path / "corrected.toml"
    text = (DEMO / "rig.toml").read_text(encoding="utf-8")
    assert text.count('["0 bar", "250 bar"]') == 1
    text = text.replace('["0 bar", "250 bar"]', '["0 bar", "320 bar"]')
    corrected.write_text(text.replace('"255 bar"', '"330 bar"'), encoding="utf-8")
    words = ["rejudge", "K-117", "--rig-file", corrected, "--save", "--by", "E. Weir"]
    ran = beadwatch(*words, "--reason", "wrong range", "--store", record)
    assert ran.code == 0, ran.err
    assert "with the channels of corrected.toml (SHA-256 " in ran.out
    assert "stored: conforming" in ran.out
    assert "again: NOT conforming" in ran.out
    assert "pressure.high" in ran.out
    with Reader(record) as reader:
        joint = reader.joint("K-117")
        (opinion,) = reader.statements_of(joint.header.uuid)
    assert joint.verdict == "conforming"
    assert opinion.body["verdict"] == "nonconforming"
    assert "corrected.toml" in opinion.body["terms"]


def test_another_edition_and_an_offset_stand_side_by_side(beadwatch, record):
    ran = beadwatch("rejudge", "K-117", "--procedure", "dvs-2207-1:2005", "--store", record)
    assert "Judged again under dvs-2207-1:2005" in ran.out
    assert "stored: conforming" in ran.out
    ran = beadwatch("rejudge", "K-117", "--pressure-offset", "0.5 bar", "--store", record)
    assert "with +0.5 bar added to every pressure" in ran.out
    assert "pressure.high" in ran.out


def test_an_opinion_has_an_author_and_a_reason(beadwatch, record):
    ran = beadwatch("rejudge", "K-117", "--save", "--by", "E. Weir", "--store", record)
    assert (ran.code, "--reason" in ran.err) == (3, True)
