"""A joint as it is typed: empty is missing, wrong is told at its field, the rest is planned."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.config.joint_file import joint_of
from logger.config.rig_file import load_rig
from logger.daemon.typed_entry import typed
from logger.wire.entry import JointEntry, PipeEntry
from tests.system.processes import DEMO

RIG = load_rig(DEMO / "rig.toml").rig
PIPE = {"material": "PE100", "outside_diameter": "180 mm", "sdr": "11"}
ENTRY = {
    "joint": "A-1",
    "operator": "R. Okafor",
    "procedure": "dvs-2207-1:2015",
    "ambient_temperature": "20 degC",
    "drag_pressure": "12 bar",
}


def entry(pipe=None, pipe_b=None, **changed):
    both = {**ENTRY, **changed}
    other = None if pipe_b is None else PipeEntry(**{**PIPE, **pipe_b})
    return JointEntry(**both, pipe=PipeEntry(**{**PIPE, **(pipe or {})}), pipe_b=other)


def errors(found):
    return {error.field: error for error in found.errors}


def test_nothing_typed_is_missing_and_not_wrong():
    found = typed(JointEntry(), RIG)
    assert found.missing == (
        "joint", "operator", "procedure", "pipe.material", "pipe.outside_diameter", "pipe.sdr",
    )  # fmt: skip
    assert (found.errors, found.plan, found.joint_toml) == ((), None, None)


def test_all_typed_is_a_plan_and_a_joint_file_that_reads_the_same():
    found = typed(entry(pipe={"code": 'LOT "7" \\ \x7f ä'}, project="Lower Weir", options=()), RIG)
    assert (found.missing, found.errors, found.refusal) == ((), (), None)
    assert found.plan is not None
    assert found.plan.steps[0].gauge_pressure_bar.is_given
    joint = joint_of(found.joint_toml)
    assert (joint.joint, joint.operator, joint.project) == ("A-1", "R. Okafor", "Lower Weir")
    assert (joint.pipe_a.outside_diameter_mm, joint.pipe_a.sdr, joint.drag_pressure_bar) == (180, 11, 12)
    assert joint.pipe_a.code == 'LOT "7" \\ \x7f ä'
    assert found.decidable


def test_the_plan_is_there_before_number_and_operator_are():
    found = typed(entry(joint="", operator="  "), RIG)
    assert found.plan is not None
    assert (found.missing, found.joint_toml) == (("joint", "operator"), None)


@pytest.mark.parametrize(
    ("field", "changed", "word", "near"),
    [
        ("pipe.material", {"pipe": {"material": "PE10"}}, "unknown material", "PE100"),
        ("pipe.outside_diameter", {"pipe": {"outside_diameter": "180"}}, "no unit", None),
        ("pipe.outside_diameter", {"pipe": {"outside_diameter": "18 bar"}}, "a pressure", None),
        ("pipe.sdr", {"pipe": {"sdr": "eleven"}}, "number", None),
        ("pipe.sdr", {"pipe": {"sdr": "2"}}, "greater than or equal", None),
        ("pipe.wall_rule", {"pipe": {"wall_rule": "table-mid"}}, "unknown rule", "table-min"),
        ("pipe.dimension_table", {"pipe": {"dimension_table": "iso-4056"}}, "unknown table", "iso-4065"),
        ("pipe.kind", {"pipe": {"kind": "bend"}}, "", None),
        ("pipe.melt_flow_rate", {"pipe": {"melt_flow_rate": "-1"}}, "", None),
        ("pipe.out_of_round", {"pipe": {"out_of_round": "-1 mm"}}, "cannot be", None),
        ("pipe_b.material", {"pipe_b": {"material": "PE10"}}, "unknown material", "PE100"),
        ("pipe_b.outside_diameter", {"pipe_b": {"outside_diameter": "x"}}, "not a number", None),
        ("procedure", {"procedure": "dvs-2207-1:2016"}, "unknown procedure", "dvs-2207-1:2015"),
        ("ambient_temperature", {"ambient_temperature": "20 mm"}, "a length", None),
        ("drag_pressure", {"drag_pressure": "-2 bar"}, "cannot be", None),
        ("cylinder_area", {"cylinder_area": "6 cm"}, "a length", None),
        ("options", {"options": ("workshop-reduktion",)}, "unknown option", "workshop-reduction"),
        ("joint", {"joint": "x" * 101}, "", None),
    ],
)
def test_a_mistake_is_told_at_its_field(field, changed, word, near):
    found = typed(entry(**changed), RIG)
    assert list(errors(found)) == [field]
    told = errors(found)[field]
    assert word in told.message
    assert near is None or near in told.nearest
    assert (found.plan, found.joint_toml) == (None, None)


def test_several_mistakes_are_told_at_once_beside_what_is_missing():
    found = typed(entry(joint="", procedure="none", pipe={"material": "", "sdr": "x"}), RIG)
    assert set(errors(found)) == {"procedure", "pipe.sdr"}
    assert found.missing == ("joint", "pipe.material")


@pytest.mark.parametrize("alone", ["wall_thickness", "core_diameter", "wall_rule", "nominal_size", "code"])
def test_a_field_that_is_right_is_no_mistake_while_the_others_are_empty(alone):
    right = {
        "wall_thickness": "40 mm", "core_diameter": "400 mm", "wall_rule": "table-mean",
        "nominal_size": "IPS 8", "code": "LOT 7",
    }  # fmt: skip
    assert typed(JointEntry(pipe=PipeEntry(**{alone: right[alone]})), RIG).errors == ()


def test_fields_that_do_not_go_together_are_told_at_one_of_them():
    found = typed(entry(pipe={"wall_thickness": "5 mm"}), RIG)
    assert list(errors(found)) == ["pipe.wall_thickness"]
    assert "conflicts with sdr" in errors(found)["pipe.wall_thickness"].message
    both = typed(entry(pipe_b={"outside_diameter": "180 mm", "nominal_size": "IPS 8"}), RIG)
    assert list(errors(both)) == ["pipe_b.nominal_size"]


def test_an_ambient_that_the_procedure_needs_is_missing_not_refused():
    found = typed(entry(ambient_temperature=""), RIG)
    assert (found.missing, found.refusal) == (("ambient_temperature",), None)


def test_what_the_procedure_does_not_cover_is_a_refusal():
    found = typed(entry(pipe={"material": "PVDF"}), RIG)
    assert found.refusal is not None
    assert found.refusal.code == "material.out_of_scope"
    assert found.joint_toml is None


def test_two_different_ends_are_planned():
    found = typed(entry(pipe_b={"material": "PE80", "code": "LOT 9"}), RIG)
    assert found.plan is not None
    assert found.plan.material == "PE100/PE80"


NAMES = sorted(set(JointEntry.model_fields) - {"pipe", "pipe_b", "options"})
PIPE_NAMES = sorted(PipeEntry.model_fields)
TYPED = st.one_of(
    st.text(max_size=30),
    st.from_regex(r"[0-9]{0,6}[.,]?[0-9]{0,3} ?(mm|in|bar|psi|degC|cm2|)", fullmatch=True),
    st.sampled_from(["PE100", "dvs-2207-1:2015", "table-min", "IPS 8", "DIPS 12", "fitting", "1e400", "nan"]),
)


@settings(max_examples=150, deadline=None)
@given(
    fields=st.dictionaries(st.sampled_from(NAMES), TYPED),
    pipe=st.dictionaries(st.sampled_from(PIPE_NAMES), TYPED),
    pipe_b=st.none() | st.dictionaries(st.sampled_from(PIPE_NAMES), TYPED),
    options=st.lists(TYPED, max_size=2).map(tuple),
)
def test_whatever_is_typed_is_answered_at_fields_that_were_typed(fields, pipe, pipe_b, options):
    found = typed(
        JointEntry(
            **{**ENTRY, **fields},
            options=options,
            pipe=PipeEntry(**{**PIPE, **pipe}),
            pipe_b=None if pipe_b is None else PipeEntry(**{**PIPE, **pipe_b}),
        ),
        RIG,
    )
    known = {*NAMES, "options", *(f"{end}.{name}" for end in ("pipe", "pipe_b") for name in PIPE_NAMES)}
    assert set(errors(found)) <= known
    assert (found.joint_toml is None) == bool(found.errors or found.missing or found.refusal)
    if found.joint_toml is not None:
        assert joint_of(found.joint_toml).joint == (fields.get("joint") or ENTRY["joint"]).strip()
