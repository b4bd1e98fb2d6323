"""The published documents: their keys, their precision, and the way back."""

import dataclasses
import json
import math
from dataclasses import replace
from importlib.resources import as_file, files

import pytest

from logger.config.joint_file import load_joint
from logger.config.procedures import available_procedures, load_procedure
from logger.domain.judgement import Verdict
from logger.errors import InputError
from logger.plan.compute import compute_plan
from logger.wire.judgement import judgement_from_json, to_json
from logger.wire.plan import plan_from_json, plan_to_json
from tests.unit.wire.documents import JUDGEMENT, PLAN

NO_PLAN = replace(
    JUDGEMENT, joint=None, plan=None, verdict=Verdict.UNDECIDED, reasons=("no_plan",), drag_detected_bar=None
)


@pytest.mark.parametrize("judgement", [JUDGEMENT, NO_PLAN])
def test_a_judgement_comes_back_as_it_went_out(judgement):
    text = to_json(judgement)
    assert judgement_from_json(text) == judgement
    assert to_json(judgement_from_json(text)) == text


def test_a_plan_comes_back_as_it_went_out():
    text = plan_to_json(PLAN)
    assert plan_from_json(text) == PLAN
    assert plan_to_json(plan_from_json(text)) == text


@pytest.mark.parametrize("document", [JUDGEMENT, PLAN])
def test_no_field_of_the_domain_is_left_out(document):
    """A field added with a default needs a value of its own here, so that the way back shows it."""
    for field in dataclasses.fields(document):
        if field.default is not dataclasses.MISSING:
            assert getattr(document, field.name) != field.default, field.name


@pytest.mark.parametrize("procedure_id", sorted(available_procedures()))
def test_a_computed_plan_comes_back_as_it_went_out(procedure_id):
    procedure = load_procedure(procedure_id)
    with as_file(files("configs").joinpath("examples", "joint.toml")) as example:
        joint = load_joint(example)
    end = replace(
        joint.pipe_a, material=sorted(procedure.materials)[0], outside_diameter_mm=250.0, wall_mm=22.7
    )
    plan = compute_plan(replace(joint, procedure=procedure_id, pipe_a=end, pipe_b=end), procedure)
    assert plan_from_json(plan_to_json(plan)) == plan


def test_keys_of_a_judgement_stand_in_the_published_order():
    document = json.loads(to_json(JUDGEMENT))
    assert list(document) == [
        "schema",
        "joint",
        "verdict",
        "reasons",
        "decision_rule",
        "plan",
        "phases",
        "findings",
        "other_joints",
        "origin",
        "time_scale",
        "drag_detected_bar",
        "unverified_limits",
        "undecided",
        "information",
        "measures",
    ]
    assert document["schema"] == "beadwatch.judgement/1"
    assert document["plan"]["schema"] == "beadwatch.plan/1"
    assert document["phases"][-1] == {
        "phase": "cooling",
        "start_s": 0.1 * 7,
        "end_s": None,
        "start_u_s": 0.1 / 6**0.5,
        "end_u_s": None,
        "start_reason": "",
        "end_reason": "trace_ends",
    }
    assert document["findings"][0] == {
        "code": "changeover.duration.long",
        "severity": "fault",
        "measured": 9.1,
        "limit": 6.0,
        "unit": "s",
        "start_s": 20.0,
        "end_s": 29.1,
        "clause": "invented for this test, clause 1",
        "standard_uncertainty": 0.05,
        "conformance_probability": 0.01,
        "coverage_factor": 1.645,
        "rule": "a rule",
    }
    assert document["undecided"][1] == dict.fromkeys(document["undecided"][0]) | {
        "code": "changeover.start.opening_not_visible",
        "missing": "boundary",
        "settles": "carriage_position",
        "unit": "",
        "rule": "",
    }
    (step,) = document["measures"]["steps"]
    assert step["excursions"][0]["since_contact_s"] == 12.0
    assert (step["gauge_bar"]["mean"], step["interface_MPa"]["least"]) == (17.9, -0.01)
    assert document["measures"]["drag"]["breakaway_bar"] == 15.0


def test_a_judgement_written_before_measures_existed_is_still_read():
    document = json.loads(to_json(JUDGEMENT))
    for key in ("undecided", "information", "measures"):
        del document[key]
    older = judgement_from_json(json.dumps(document))
    assert (older.undecided, older.information, older.measures) == ((), (), None)
    assert older.findings == JUDGEMENT.findings


def test_a_plan_carries_the_source_beside_each_value():
    document = json.loads(plan_to_json(PLAN))
    assert document["schema"] == "beadwatch.plan/1"
    assert document["plate_temperature_degC"] == {
        "min": 200.0,
        "target": 210.0,
        "max": 220.0,
        "source": "invented for this test, table 1",
        "mark": "from memory",
    }
    assert [(step["phase"], step["step"]) for step in document["steps"]] == [
        ("bead_up", None),
        ("heat_soak", None),
        ("changeover", None),
        ("pressure_build_up", None),
        ("cooling", 1),
        ("cooling", 2),
    ]
    first = document["steps"][0]
    assert (first["bead_height_mm"], first["bead_height_mark"]) == (1.5, "from memory")
    assert first["gauge_pressure_bar"]["min"] == 0.1 + 0.2
    assert first["duration_s"] == {
        "min": None,
        "target": None,
        "max": None,
        "source": "",
        "mark": "not given",
    }


def test_a_document_is_one_line_of_unicode():
    text = to_json(JUDGEMENT)
    assert text.endswith("}\n")
    assert text.count("\n") == 1
    assert '"é"' in text


def test_whole_numbers_are_written_as_the_floats_they_are():
    assert plan_to_json(replace(PLAN, joining_force_N=1500)) == plan_to_json(
        replace(PLAN, joining_force_N=1500.0)
    )


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
def test_a_value_that_is_no_number_is_never_emitted(wrong):
    with pytest.raises(ValueError, match="finite"):
        to_json(replace(JUDGEMENT, time_scale=wrong))


@pytest.mark.parametrize("phases", [JUDGEMENT.phases[:-1], JUDGEMENT.phases[::-1]])
def test_each_phase_stands_once_and_in_order(phases):
    with pytest.raises(ValueError, match="phases"):
        to_json(replace(JUDGEMENT, phases=phases))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"schema": "beadwatch.judgement/2"}, "old.json: schema: .*beadwatch.judgement/1"),
        ({"colour": "red"}, "old.json: colour: Extra inputs"),
        ({"time_scale": "10"}, "old.json: time_scale: "),
        ({"verdict": "fine"}, "old.json: verdict: .*conforming"),
        ({"findings": [{}]}, "old.json: findings.0.code: Field required"),
        ({"plan": {"schema": "beadwatch.plan/2"}}, "old.json: plan.schema: "),
    ],
)
def test_another_document_is_refused_naming_file_and_key(change, message):
    document = json.loads(to_json(JUDGEMENT)) | change
    with pytest.raises(InputError, match=message):
        judgement_from_json(json.dumps(document), "old.json")


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"schema": NaN}'])
def test_text_that_is_no_document_is_refused(text):
    with pytest.raises(InputError, match=r"^old\.json: "):
        plan_from_json(text, "old.json")
