"""Cautions and remarks that belong on the plan: codes and parameters, worded at the edge."""

from collections.abc import Iterator
from functools import cache

from logger.domain.joint import Joint, PipeEnd, WallRule
from logger.domain.joint_plan import Notice
from logger.domain.notices import WORKSHOP_OPTION, CautionCode, RemarkCode
from logger.domain.procedure import Procedure, Variable
from logger.domain.source import Source
from logger.domain.traceability import code_fault, digits_of

_BAR_PER_MPA = 10.0

_ALWAYS = tuple(
    Notice(code=code)
    for code in (
        CautionCode.HOT_PLATE,
        CautionCode.CLOSING_CLAMPS,
        CautionCode.PRESSURE_OIL,
        CautionCode.MAINS_ON_WET_GROUND,
        CautionCode.GAS,
        CautionCode.BEAD_BY_EYE,
        CautionCode.NO_FORCED_COOLING,
        CautionCode.DO_NOT_LIFT,
        CautionCode.LOCAL_CODES,
        CautionCode.DOES_NOT_CERTIFY,
    )
)


def cautions_of(joint: Joint, procedure: Procedure, pipe_area_mm2: float) -> tuple[Notice, ...]:
    """Return the cautions of every plan, the procedure's own, and what friction does to the reading."""
    return (*_ALWAYS, *_own(procedure.cautions), _friction(joint, pipe_area_mm2))


@cache
def _own(codes: tuple[str, ...]) -> tuple[Notice, ...]:
    return tuple(Notice(code=code) for code in codes)


def _friction(joint: Joint, pipe_area_mm2: float) -> Notice:
    drag_bar, piston_area_mm2 = joint.drag_pressure_bar, joint.piston_area_mm2
    if drag_bar is None or piston_area_mm2 is None:
        return Notice(code=CautionCode.FRICTION_AT_REST)
    drag_MPa = drag_bar / _BAR_PER_MPA * piston_area_mm2 / pipe_area_mm2
    return Notice(code=CautionCode.FRICTION_AT_REST, parameters={"drag_MPa": drag_MPa})


def remarks_of(joint: Joint, end: PipeEnd, procedure: Procedure) -> tuple[Notice, ...]:
    """Return what the plan took for granted."""
    found: list[Notice] = []
    if end.wall_rule is WallRule.DN_OVER_SDR and end.sdr is not None:
        found.append(_notice(RemarkCode.WALL_FROM_SDR, wall_mm=end.wall_mm, sdr=end.sdr))
    elif end.wall_rule is not WallRule.ENTERED and end.sdr is not None:
        found.append(
            _notice(
                RemarkCode.WALL_FROM_TABLE,
                wall_mm=end.wall_mm,
                sdr=end.sdr,
                rule=end.wall_rule,
                source=_cited(end.wall_source),
            )
        )
    if joint.pipe_a is not joint.pipe_b:
        found.extend(_of_two_ends(joint, procedure))
    found.extend(_code_forms(joint))
    if WORKSHOP_OPTION in joint.options and procedure.workshop_reduction is not None:
        rule = procedure.workshop_reduction
        found.append(
            _notice(
                RemarkCode.WORKSHOP_REDUCTION,
                factor=rule.factor,
                conditions=rule.conditions,
                source=_cited(rule.source),
            )
        )
    for limit in procedure.scope:
        if limit.variable is Variable.MELT_FLOW and None in (
            joint.pipe_a.melt_flow_rate,
            joint.pipe_b.melt_flow_rate,
        ):
            found.append(_notice(RemarkCode.MELT_FLOW_UNKNOWN, source=_cited(limit.source)))
    if joint.drag_pressure_bar is None:
        found.append(Notice(code=RemarkCode.DRAG_UNKNOWN))
    if joint.piston_area_mm2 is None:
        found.append(Notice(code=RemarkCode.PISTON_AREA_UNKNOWN))
    return tuple(found)


def _of_two_ends(joint: Joint, procedure: Procedure) -> list[Notice]:
    a, b = joint.pipe_a, joint.pipe_b
    found: list[Notice] = []
    rule = procedure.unequal_walls
    if a.wall_mm != b.wall_mm and rule is not None:
        found.append(
            _notice(
                RemarkCode.WALLS_DIFFER,
                wall_a_mm=a.wall_mm,
                wall_b_mm=b.wall_mm,
                planned_by=rule.plan_by,
                source=_cited(rule.source),
            )
        )
    if a.material != b.material:
        found.append(_notice(RemarkCode.GRADES_DIFFER, material_a=a.material, material_b=b.material))
    return found


def _code_forms(joint: Joint) -> Iterator[Notice]:
    """A remark on each traceability code that is not of the standard's form."""
    ends = {"side a": joint.pipe_a, "side b": joint.pipe_b}
    if joint.pipe_a is joint.pipe_b:
        ends = {"both sides": joint.pipe_a}
    for sides, end in ends.items():
        fault = code_fault(end.code, is_fitting=end.is_fitting) if end.code else None
        if fault is not None:
            digits = digits_of(is_fitting=end.is_fitting)
            yield _notice(RemarkCode.CODE_FORM, sides=sides, fault=fault.value, digits=digits)


def _cited(source: Source) -> str:
    return f"{source.text} ({source.mark})"


def _notice(code: RemarkCode, **parameters: str | float) -> Notice:
    return Notice(code=code, parameters=parameters)
