"""What a procedure does not cover, refused by name before anything is computed."""

from typing import NoReturn

from logger.domain.joint import Joint, PipeEnd
from logger.domain.notices import RefusalCode
from logger.domain.procedure import PreparationCode, Procedure, Variable
from logger.errors import ProcedureRefusal
from logger.plan.evaluate import Inputs, value_of

_SAME_MM = 1e-6
_MM_PER_INCH = 25.4
_INCH_DIGITS = 9
"""8.625 in through mm is 8.625 in again, and on its side of a table's edge."""


def governing_end(joint: Joint, procedure: Procedure) -> PipeEnd:
    """Return the pipe end that the joint is planned by.

    Raises:
        ProcedureRefusal: a material or a pair of ends that the procedure does not cover.
    """
    a, b = joint.pipe_a, joint.pipe_b
    for end in (a, b):
        if not 0 < 2 * end.wall_mm < end.outside_diameter_mm:
            _refuse(
                RefusalCode.PIPE_IMPOSSIBLE, procedure,
                diameter_mm=end.outside_diameter_mm, wall_mm=end.wall_mm,
            )  # fmt: skip
    if a.material[:2] != b.material[:2]:
        _refuse(RefusalCode.MATERIAL_MIXED, procedure, material_a=a.material, material_b=b.material)
    for end in (a, b):
        if end.material not in procedure.materials:
            _refuse(
                RefusalCode.MATERIAL_OUT_OF_SCOPE, procedure,
                material=end.material, covered=", ".join(sorted(procedure.materials)),
            )  # fmt: skip
    if a == b:
        return a
    if abs(a.outside_diameter_mm - b.outside_diameter_mm) > _SAME_MM:
        _refuse(
            RefusalCode.DIAMETER_UNEQUAL, procedure,
            diameter_a_mm=a.outside_diameter_mm, diameter_b_mm=b.outside_diameter_mm,
        )  # fmt: skip
    if abs(a.wall_mm - b.wall_mm) <= _SAME_MM:
        return a
    return _end_of_unequal_walls(a, b, procedure)


def _end_of_unequal_walls(a: PipeEnd, b: PipeEnd, procedure: Procedure) -> PipeEnd:
    thinner, thicker = sorted((a, b), key=lambda end: end.wall_mm)
    rule = procedure.unequal_walls
    limit_mm = 0.0 if rule is None else value_of(rule.limit_mm, inputs_of(thinner, None)) or 0.0
    if rule is None or thicker.wall_mm - thinner.wall_mm > limit_mm + _SAME_MM:
        _refuse(
            RefusalCode.WALL_UNEQUAL, procedure,
            wall_a_mm=a.wall_mm, wall_b_mm=b.wall_mm, limit_mm=limit_mm,
        )  # fmt: skip
    return thinner if rule.plan_by == "thinner" else thicker


def inputs_of(end: PipeEnd, ambient_temperature_degC: float | None) -> Inputs:
    """Return what formulas may speak of, for this end; without ambient where it is not known."""
    return Inputs(
        wall=end.wall_mm,
        diameter=end.outside_diameter_mm,
        sdr=end.sdr if end.sdr is not None else end.outside_diameter_mm / end.wall_mm,
        wall_in=round(end.wall_mm / _MM_PER_INCH, _INCH_DIGITS),
        diameter_in=round(end.outside_diameter_mm / _MM_PER_INCH, _INCH_DIGITS),
        ambient=ambient_temperature_degC,
        melt_flow=end.melt_flow_rate,
    )


def check_scope(inputs: Inputs, procedure: Procedure) -> None:
    """Raise ProcedureRefusal where a dimension or the ambient temperature lies outside the scope."""
    for limit in procedure.scope:
        if limit.variable is Variable.MELT_FLOW and inputs.melt_flow is None:
            continue
        value = inputs.of(limit.variable)
        low, high = value_of(limit.min, inputs), value_of(limit.max, inputs)
        if low is not None and (value < low - _SAME_MM or (limit.is_min_excluded and value <= low)):
            code = RefusalCode.SCOPE_NOT_ABOVE if limit.is_min_excluded else RefusalCode.SCOPE_BELOW
            edge = low
        elif high is not None and value > high + _SAME_MM:
            code, edge = RefusalCode.SCOPE_ABOVE, high
        else:
            continue
        _refuse(
            code, procedure,
            variable=limit.variable, value=value, limit=edge,
            source=f"{limit.source.text} ({limit.source.mark})",
        )  # fmt: skip


def check_end(end: PipeEnd, inputs: Inputs, procedure: Procedure) -> None:
    """Raise ProcedureRefusal where the end lies outside the scope or was measured too far out of round."""
    check_scope(inputs, procedure)
    if end.out_of_round_mm is None:
        return
    for check in procedure.preparation:
        limit_mm = value_of(check.limit_mm.max, inputs)
        if check.code is not PreparationCode.OUT_OF_ROUND or limit_mm is None:
            continue
        if end.out_of_round_mm > limit_mm:
            source = check.limit_mm.source
            _refuse(
                RefusalCode.OUT_OF_ROUND, procedure,
                measured_mm=end.out_of_round_mm, limit_mm=limit_mm, source=f"{source.text} ({source.mark})",
            )  # fmt: skip


def _refuse(code: RefusalCode, procedure: Procedure, **parameters: str | float) -> NoReturn:
    raise ProcedureRefusal(code, {"procedure": procedure.id, **parameters})
