"""`plan` and `judge` on good input: what is printed, in which form, with which exit code."""

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from configs import __file__ as configs_file
from logger.domain.phase import PHASES
from logger.wire.judgement import judgement_from_json
from logger.wire.plan import plan_from_json
from tests.unit.cli.command import command_of


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


def schema(name: str) -> dict:
    return json.loads((Path(configs_file).parent / "schemas" / f"{name}-1.json").read_text(encoding="utf-8"))


EDGES = {"min", "target", "max"}


def test_plan_as_json_has_the_keys_of_its_contract(beadwatch, demo_joint_file):
    ran = beadwatch("plan", demo_joint_file, "--json")
    assert (ran.code, ran.err) == (0, "")
    plan = json.loads(ran.out)
    assert plan["schema"] == "beadwatch.plan/1"
    assert plan["procedure"] == "dvs-2207-1:2015"
    assert plan["wall_mm"] == pytest.approx(63 / 11)
    assert plan["pipe_area_mm2"] == pytest.approx(3.14159265 * (63 - 63 / 11) * 63 / 11)
    assert plan["joining_force_N"] == pytest.approx(0.15 * plan["pipe_area_mm2"])
    assert set(plan["plate_temperature_degC"]) >= EDGES
    assert [step["phase"] for step in plan["steps"]] == list(PHASES)
    for step in plan["steps"]:
        assert set(step) >= {
            "phase",
            "gauge_pressure_bar",
            "interface_pressure_MPa",
            "duration_s",
            "bead_height_mm",
        }
        for key in ("gauge_pressure_bar", "interface_pressure_MPa", "duration_s"):
            assert set(step[key]) >= EDGES
    soak = plan["steps"][1]
    assert soak["gauge_pressure_bar"]["min"] is None, "null where the procedure gives nothing"
    assert soak["duration_s"]["min"] > 0
    jsonschema.validate(plan, schema("plan"))
    assert plan_from_json(ran.out).procedure == plan["procedure"]


def test_plan_as_text_is_lines_for_people(beadwatch, demo_joint_file):
    ran = beadwatch("plan", demo_joint_file)
    assert (ran.code, ran.err) == (0, "")
    assert "bar" in ran.out
    assert not ran.out.startswith("{")
    assert len(ran.out.splitlines()) > 10


@pytest.mark.parametrize(
    ("scenario", "verdict", "words", "code"),
    [
        ("clean", "conforming", "curve: conforming", 0),
        ("slow-changeover", "nonconforming", "NOT conforming", 10),
        ("wire-break", "undecided", "undecided", 11),
    ],
)
def test_judge_says_its_verdict_with_its_exit_code(
    beadwatch, trace_of_scenario, demo_joint_file, scenario, verdict, words, code
):
    trace = trace_of_scenario(scenario)
    ran = beadwatch("judge", trace, demo_joint_file, "--json")
    assert (ran.code, ran.err) == (code, "")
    judgement = json.loads(ran.out)
    assert judgement["schema"] == "beadwatch.judgement/1"
    assert judgement["verdict"] == verdict
    assert judgement["origin"] == "imported_file"
    assert [phase["phase"] for phase in judgement["phases"]] == list(PHASES)
    assert {"start_s", "end_s", "start_u_s", "end_u_s"} <= set(judgement["phases"][0])
    for finding in judgement["findings"]:
        assert set(finding) >= {
            "code", "severity", "measured", "limit", "unit", "start_s", "end_s", "clause"
        }  # fmt: skip
    jsonschema.validate(judgement, schema("judgement"))
    assert judgement_from_json(ran.out).verdict == verdict
    assert beadwatch("judge", trace, demo_joint_file, "--json").out == ran.out, "the same bytes twice"
    as_text = beadwatch("judge", trace, demo_joint_file)
    assert as_text.code == code
    assert words in as_text.out


def test_judge_without_a_joint_shows_phases_and_decides_nothing(beadwatch, trace_of_scenario):
    ran = beadwatch("judge", trace_of_scenario("clean"), "--json")
    judgement = json.loads(ran.out)
    assert ran.code == 11
    assert (judgement["plan"], judgement["joint"], judgement["reasons"]) == (None, None, ["no_plan"])
    assert all(phase["start_s"] is not None for phase in judgement["phases"])


def test_judge_takes_the_area_from_the_rig_file(beadwatch, trace_of_scenario):
    demo = Path(configs_file).parent / "demo"
    ran = beadwatch(
        "judge", trace_of_scenario("clean"), demo / "joint.toml", "--rig", demo / "rig.toml", "--json"
    )
    assert (ran.code, json.loads(ran.out)["plan"]["piston_area_mm2"]) == (0, 629.0)
    without = beadwatch("judge", trace_of_scenario("clean"), demo / "joint.toml", "--json")
    assert without.code == 11
    assert "gauge_pressure_not_planned" in json.loads(without.out)["reasons"]


def test_the_installed_command_is_this_command(demo_joint_file):
    """Once as a process of its own: stdout is data, byte for byte."""
    done = subprocess.run(
        [sys.executable, "-m", "logger", "plan", str(demo_joint_file), "--json"],
        capture_output=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.endswith(b"}\n")
    assert done.stdout.count(b"\n") == 1
