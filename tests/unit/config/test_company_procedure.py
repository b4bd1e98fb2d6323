"""The example of a company procedure: read from a folder of its own, planned, refused outside its scope."""

from importlib import resources
from pathlib import Path

import pytest

from logger.config.procedures import load_procedure
from logger.domain.notices import WORKSHOP_OPTION
from logger.domain.phase import Phase
from logger.domain.source import Mark
from logger.errors import InputError, ProcedureRefusal
from logger.plan.compute import compute_plan
from tests.unit.plan.joints import joint, pipe

TEXT = (resources.files("configs") / "examples" / "company-procedure.toml").read_text(encoding="utf-8")


def test_the_example_plans_a_joint(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(TEXT, encoding="utf-8")
    procedure = load_procedure("lower-weir-works:1", [tmp_path])
    plan = compute_plan(joint(pipe(dn=180, wall=16.0), ambient=20.0), procedure)
    assert plan.step_of(Phase.BEAD_UP).bead_height_mm == 2.5
    soak = plan.step_of(Phase.HEAT_SOAK).duration_s
    assert (soak.min, soak.max) == (160.0, 192.0)
    assert plan.step_of(Phase.CHANGEOVER).duration_s.max == pytest.approx(9.0)
    assert plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max == 8.0
    assert plan.step_of(Phase.COOLING).duration_s.min == 20 * 60
    ends = {end.kind.value: end.duration_s for end in plan.cooling_ends}
    assert ends["before_rough_handling"].min == 1200
    assert ends["before_rough_handling"].source.mark is Mark.PRACTICE
    checks = {check.code.value: check.limit_mm.max for check in plan.preparation}
    assert (checks["misalignment"], checks["gap"]) == (1.6, 0.5)
    reduced = compute_plan(joint(pipe(dn=180, wall=16.0), options=frozenset({WORKSHOP_OPTION})), procedure)
    assert reduced.step_of(Phase.COOLING).duration_s.min == 10 * 60


@pytest.mark.parametrize(
    ("wall", "ambient", "code"), [(4.0, 20.0, "scope.not_above"), (10.0, 4.0, "scope.below")]
)
def test_the_example_refuses_what_its_scope_excludes(
    tmp_path: Path, wall: float, ambient: float, code: str
) -> None:
    (tmp_path / "own.toml").write_text(TEXT, encoding="utf-8")
    with pytest.raises(ProcedureRefusal) as refused:
        compute_plan(
            joint(pipe(dn=110, wall=wall), ambient=ambient), load_procedure("lower-weir-works:1", [tmp_path])
        )
    assert refused.value.code == code


DWELL = 'dwell = { up_to = 2, after = 60, unit = "s" }'


def test_a_declared_dwell_reaches_the_step_it_stands_in(tmp_path: Path) -> None:
    assert f"# {DWELL}" in TEXT, "the example explains it"
    (tmp_path / "own.toml").write_text(TEXT.replace(f"# {DWELL}", DWELL), encoding="utf-8")
    plan = compute_plan(joint(pipe(dn=180, wall=16.0)), load_procedure("lower-weir-works:1", [tmp_path]))
    dwells = {step.phase: (step.dwell_s, step.dwell_after_s) for step in plan.steps}
    assert dwells.pop(Phase.COOLING) == (2.0, 60.0)
    assert set(dwells.values()) == {(0.0, 0.0)}


@pytest.mark.parametrize(
    ("phase", "dwell", "message"),
    [
        ("cooling", 'dwell = { up_to = 2, unit = "s" }', "after: is given for cooling"),
        ("heat_soak", DWELL, "after: is given for cooling, and for nothing else"),
        ("changeover", 'dwell = { up_to = 2, unit = "s" }', "changeover has no dwell"),
        ("cooling", 'dwell = { up_to = -2, after = 60, unit = "s" }', "dwell.* up_to"),
    ],
)
def test_a_dwell_where_the_weld_is_young_is_refused(
    tmp_path: Path, phase: str, dwell: str, message: str
) -> None:
    own = tmp_path / "own.toml"
    own.write_text(TEXT.replace(f'phase = "{phase}"', f'phase = "{phase}"\n{dwell}', 1), encoding="utf-8")
    with pytest.raises(InputError, match=message):
        load_procedure("lower-weir-works:1", [tmp_path])
