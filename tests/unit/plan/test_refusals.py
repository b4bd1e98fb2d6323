"""What a procedure does not cover is refused by name, with the parameters that explain it."""

import pytest

from logger.config.procedures import load_procedure
from logger.domain.joint import Joint
from logger.domain.notices import WORKSHOP_OPTION, RemarkCode
from logger.domain.phase import Phase
from logger.errors import ProcedureRefusal
from logger.plan.compute import compute_plan
from tests.unit.plan.joints import joint, pipe

WORKSHOP = frozenset({WORKSHOP_OPTION})

REFUSED = [
    ("dvs-2207-1:2015", joint(pipe(material="PP-H")), "material.out_of_scope", {"material": "PP-H"}),
    ("dvs-2207-1:2015", joint(pipe(), pipe(material="PP-R")), "material.mixed", {"material_b": "PP-R"}),
    ("dvs-2207-1:2015", joint(pipe(dn=180), pipe(dn=160)), "diameter.unequal", {"diameter_b_mm": 160}),
    ("dvs-2207-1:2015", joint(pipe(wall=10), pipe(wall=11.2)), "wall.unequal", {"limit_mm": 1.0}),
    ("dvs-2207-1:2015", joint(pipe(dn=1600, wall=131)), "scope.above", {"variable": "wall", "limit": 130}),
    ("dvs-2207-1:2005", joint(pipe(dn=1600, wall=70.1)), "scope.above", {"variable": "wall", "limit": 70}),
    ("dvs-2207-1:2015", joint(ambient=40.1), "scope.above", {"variable": "ambient", "limit": 40}),
    ("dvs-2207-1:2005", joint(pipe(melt_flow=1.8)), "scope.above", {"variable": "melt_flow", "limit": 1.7}),
    ("dvs-2207-11", joint(pipe(material="PP-R", melt_flow=0.3)), "scope.below", {"limit": 0.4}),
    ("dvs-2207-1:2005", joint(pipe(), pipe(melt_flow=0.1)), "scope.below", {"variable": "melt_flow"}),
    (
        "dvs-2207-1:2015",
        joint(pipe(out_of_round=0.83)),
        "out_of_round",
        {"measured_mm": 0.83, "limit_mm": 0.82},
    ),
    ("dvs-2207-1:2015", joint(pipe(), pipe(out_of_round=2.0)), "out_of_round", {"measured_mm": 2.0}),
    ("dvs-2207-1:2015", joint(ambient=None), "ambient.missing", {}),
    ("dvs-2207-1:2015", joint(pipe(dn=20, wall=10)), "pipe.impossible", {"wall_mm": 10}),
    ("dvs-2207-1:2015", joint(pipe(dn=20, wall=0)), "pipe.impossible", {"wall_mm": 0}),
    (
        "dvs-2207-1:2015",
        joint(pipe(wall=14.9), options=WORKSHOP),
        "workshop.not_covered",
        {"wall_from_mm": 15},
    ),
]


@pytest.mark.parametrize(("procedure", "entered", "code", "parameters"), REFUSED)
def test_refused_by_name(procedure: str, entered: Joint, code: str, parameters: dict[str, float]) -> None:
    with pytest.raises(ProcedureRefusal) as refused:
        compute_plan(entered, load_procedure(procedure))
    assert refused.value.code == code
    expected = {"procedure": procedure, **parameters}
    given = {key: refused.value.parameters[key] for key in expected}
    assert given == pytest.approx(expected) if parameters else given == expected


def test_the_last_row_and_the_last_column_are_still_covered() -> None:
    plan = compute_plan(joint(pipe(dn=1600, wall=130), ambient=40.0), load_procedure("dvs-2207-1:2015"))
    assert plan.step_of(Phase.COOLING).duration_s.min == 60 * 157


def test_walls_within_the_misalignment_allowed_are_planned_by_the_thinner() -> None:
    plan = compute_plan(joint(pipe(wall=10.9), pipe(wall=10.0)), load_procedure("dvs-2207-1:2015"))
    assert plan.wall_mm == 10.0
    assert RemarkCode.WALLS_DIFFER in [remark.code for remark in plan.remarks]


def test_two_grades_in_scope_are_joined_and_named() -> None:
    plan = compute_plan(joint(pipe(), pipe(material="PE80")), load_procedure("dvs-2207-1:2015"))
    assert plan.material == "PE100/PE80"
    assert RemarkCode.GRADES_DIFFER in [remark.code for remark in plan.remarks]


def test_workshop_reduction_is_declared_halves_cooling_and_is_named() -> None:
    full = compute_plan(joint(pipe(wall=16.4)), load_procedure("dvs-2207-1:2005"))
    half = compute_plan(joint(pipe(wall=16.4), options=WORKSHOP), load_procedure("dvs-2207-1:2005"))
    full_s = full.step_of(Phase.COOLING).duration_s.min
    half_s = half.step_of(Phase.COOLING).duration_s.min
    assert full_s is not None
    assert half_s == pytest.approx(full_s / 2)
    assert RemarkCode.WORKSHOP_REDUCTION in [remark.code for remark in half.remarks]
    assert RemarkCode.WORKSHOP_REDUCTION not in [remark.code for remark in full.remarks]


def test_a_melt_flow_rate_that_was_not_entered_is_remarked_where_the_scope_names_one() -> None:
    procedure = load_procedure("dvs-2207-1:2005")
    unknown, known = compute_plan(joint(), procedure), compute_plan(joint(pipe(melt_flow=0.5)), procedure)
    assert RemarkCode.MELT_FLOW_UNKNOWN in [remark.code for remark in unknown.remarks]
    assert RemarkCode.MELT_FLOW_UNKNOWN not in [remark.code for remark in known.remarks]
