"""From a joint and a procedure to the plan: pressures, times, bead, temperatures, each with its source."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from logger.domain.band import NO_BAND, Band
from logger.domain.geometry import pipe_area_mm2
from logger.domain.heat_through import asked_time
from logger.domain.joint import Joint, PipeEnd
from logger.domain.joint_plan import CoolingEnd, JointPlan, PlanStep
from logger.domain.notices import WORKSHOP_OPTION, RefusalCode
from logger.domain.phase import PHASES, Phase
from logger.domain.procedure import (
    NO_RULE,
    BandRule,
    CoolingEndKind,
    PreparationCode,
    PreparationLimit,
    Procedure,
    SoakLimit,
    StepRule,
)
from logger.errors import ProcedureRefusal
from logger.plan.cautions import cautions_of, remarks_of
from logger.plan.evaluate import Inputs, value_of
from logger.plan.scope import check_end, governing_end, inputs_of

_BAR_PER_MPA = 10.0
_SILENT_END = {kind: CoolingEnd(kind=kind, duration_s=NO_BAND) for kind in CoolingEndKind}


def compute_plan(joint: Joint, procedure: Procedure) -> JointPlan:
    """Return everything the procedure asks of this joint.

    Gauge pressure is interface pressure x A / Ac + drag; the gauge bands are empty while drag or piston area
    is unknown.

    Raises:
        ProcedureRefusal: the procedure does not cover the joint; the code and its parameters say why.
    """
    try:
        return _plan(joint, procedure)
    except ProcedureRefusal as refusal:
        raise ProcedureRefusal(refusal.code, {"procedure": procedure.id, **refusal.parameters}) from None


def _plan(joint: Joint, procedure: Procedure) -> JointPlan:
    end = governing_end(joint, procedure)
    inputs = inputs_of(end, joint.ambient_temperature_degC)
    check_end(end, inputs, procedure)
    if joint.pipe_a is not joint.pipe_b:
        other = joint.pipe_b if end is joint.pipe_a else joint.pipe_a
        check_end(other, inputs_of(other, joint.ambient_temperature_degC), procedure)
    area_mm2 = pipe_area_mm2(end.outside_diameter_mm, end.wall_mm)
    gauge = _Gauge(area_mm2, joint)
    steps = tuple(_steps(procedure, inputs, gauge))
    if WORKSHOP_OPTION in joint.options:
        steps = _reduced(steps, end.wall_mm, procedure)
    plate_temperature_degC = _plate_temperature(joint, procedure, inputs)
    return JointPlan(
        procedure=procedure.id,
        title=procedure.title,
        material=_material(joint),
        outside_diameter_mm=end.outside_diameter_mm,
        wall_mm=end.wall_mm,
        wall_rule=end.wall_rule,
        sdr=end.sdr,
        pipe_area_mm2=area_mm2,
        piston_area_mm2=joint.piston_area_mm2,
        drag_pressure_bar=joint.drag_pressure_bar,
        ambient_temperature_degC=joint.ambient_temperature_degC,
        joining_force_N=area_mm2 * _joining_pressure_MPa(steps),
        plate_temperature_degC=plate_temperature_degC,
        steps=steps,
        soak_limit_includes_drag=procedure.soak_limit is SoakLimit.INTERFACE,
        soak_limit_source=procedure.soak_limit_source,
        bead_measure=procedure.bead_measure,
        cooling_ends=_cooling_ends(procedure, inputs),
        preparation=tuple(_preparation(procedure, end, inputs)),
        heat_through_s=asked_time(_band(procedure.heat_through_s, inputs)),
        notes=procedure.notes,
        procedure_digest=procedure.digest,
        cautions=cautions_of(joint, procedure, area_mm2),
        remarks=remarks_of(joint, end, procedure),
    )


class _Gauge:
    """Interface pressure to gauge pressure for one joint."""

    def __init__(self, pipe_area: float, joint: Joint) -> None:
        piston_area = joint.piston_area_mm2
        self._is_known = joint.drag_pressure_bar is not None and piston_area is not None
        self._drag_bar = joint.drag_pressure_bar or 0.0
        self._bar_per_MPa = _BAR_PER_MPA * pipe_area / piston_area if piston_area else 0.0

    def band(self, interface: Band) -> Band:
        if not self._is_known or not interface.is_given:
            return NO_BAND
        drag, scale = self._drag_bar, self._bar_per_MPa
        low, target, high = interface.min, interface.target, interface.max
        return Band(
            min=None if low is None else low * scale + drag,
            target=None if target is None else target * scale + drag,
            max=None if high is None else high * scale + drag,
            source=interface.source,
        )

    def drag_or_less(self, procedure: Procedure) -> Band:
        if not self._is_known:
            return NO_BAND
        return Band(max=self._drag_bar, source=procedure.soak_limit_source)


def _band(rule: BandRule, inputs: Inputs) -> Band:
    if rule.constant is not None:
        return rule.constant
    low = None if rule.min is None else value_of(rule.min, inputs)
    high = None if rule.max is None else value_of(rule.max, inputs)
    if rule.target is None:
        target = None
    elif rule.target is rule.min:
        target = low
    elif rule.target is rule.max:
        target = high
    else:
        target = value_of(rule.target, inputs)
    if low is target is high is None:
        return NO_BAND
    return Band(min=low, target=target, max=high, source=rule.source)


def _steps(procedure: Procedure, inputs: Inputs, gauge: _Gauge) -> Iterator[PlanStep]:
    wall_mm = inputs.wall
    rules = [rule for rule in procedure.steps if rule.wall_above_mm < wall_mm <= rule.wall_up_to_mm]
    if len(rules) == len(PHASES):
        for rule in rules:
            yield _step(rule, None, procedure, inputs, gauge)
        return
    seen = Counter[Phase]()
    repeated = {phase for phase, times in Counter(rule.phase for rule in rules).items() if times > 1}
    for rule in rules:
        seen[rule.phase] += 1
        yield _step(rule, seen[rule.phase] if rule.phase in repeated else None, procedure, inputs, gauge)


def _step(
    rule: StepRule, number: int | None, procedure: Procedure, inputs: Inputs, gauge: _Gauge
) -> PlanStep:
    interface = _band(rule.interface_pressure_MPa, inputs)
    is_drag_or_less = rule.phase is Phase.HEAT_SOAK and procedure.soak_limit is SoakLimit.DRAG_OR_LESS
    return PlanStep(
        phase=rule.phase,
        step=number,
        gauge_pressure_bar=gauge.drag_or_less(procedure) if is_drag_or_less else gauge.band(interface),
        interface_pressure_MPa=interface,
        duration_s=_band(rule.duration_s, inputs),
        bead_height_mm=value_of(rule.bead_mm.target, inputs),
        bead_height_source=rule.bead_mm.source,
        dwell_s=rule.dwell_s,
        dwell_after_s=rule.dwell_after_s,
    )


def _cooling_ends(procedure: Procedure, inputs: Inputs) -> tuple[CoolingEnd, ...]:
    """Return every end of cooling, with an empty band where the procedure is silent."""
    rules = procedure.cooling_ends_s
    return tuple(
        CoolingEnd(kind=kind, duration_s=_band(rules[kind], inputs)) if kind in rules else _SILENT_END[kind]
        for kind in CoolingEndKind
    )


def _preparation(procedure: Procedure, end: PipeEnd, inputs: Inputs) -> Iterator[PreparationLimit]:
    for rule in procedure.preparation:
        if rule.code is PreparationCode.SKIN_REMOVED and end.skin_diameter_mm is None:
            continue
        yield rule.constant or PreparationLimit(
            code=rule.code, limit_mm=_band(rule.limit_mm, inputs), source=rule.limit_mm.source
        )


def _reduced(steps: tuple[PlanStep, ...], wall_mm: float, procedure: Procedure) -> tuple[PlanStep, ...]:
    """Return the steps with the declared workshop reduction on the last cooling step."""
    rule = procedure.workshop_reduction
    if rule is None or wall_mm < rule.wall_from_mm:
        wall_from_mm = math.inf if rule is None else rule.wall_from_mm
        raise ProcedureRefusal(
            RefusalCode.WORKSHOP_NOT_COVERED, {"wall_mm": wall_mm, "wall_from_mm": wall_from_mm}
        )
    last = steps[-1]
    if last.duration_s.min is None:
        return steps
    shorter = Band(min=last.duration_s.min * rule.factor, source=rule.source)
    return (*steps[:-1], replace(last, duration_s=shorter))


def _joining_pressure_MPa(steps: tuple[PlanStep, ...]) -> float:
    first = next(step for step in steps if step.phase is Phase.COOLING)
    target = first.interface_pressure_MPa.target
    if target is None:
        raise ValueError("a procedure without a joining pressure cannot be loaded")
    return target


def _plate_temperature(joint: Joint, procedure: Procedure, inputs: Inputs) -> Band:
    rules = [_rule_for(end.material, procedure) for end in (joint.pipe_a, joint.pipe_b)]
    if rules[0] is not rules[1]:
        raise ProcedureRefusal(
            RefusalCode.MATERIAL_VALUES_DIFFER,
            {
                "procedure": procedure.id,
                "material_a": joint.pipe_a.material,
                "material_b": joint.pipe_b.material,
            },
        )
    return _band(rules[0], inputs)


def _rule_for(material: str, procedure: Procedure) -> BandRule:
    for rule in procedure.plate_temperature_degC:
        if not rule.materials or material in rule.materials:
            return rule
    return NO_RULE


def _material(joint: Joint) -> str:
    a, b = joint.pipe_a.material, joint.pipe_b.material
    return a if a == b else f"{a}/{b}"
