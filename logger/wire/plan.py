"""The plan as JSON, schema `beadwatch.plan/1`."""

from typing import Literal

from pydantic import Field

from logger.domain.band import NO_BAND, Band
from logger.domain.joint_plan import CoolingEnd, JointPlan, Notice, PlanStep
from logger.domain.phase import Phase
from logger.domain.procedure import BeadMeasure, CoolingEndKind, PreparationCode, PreparationLimit
from logger.domain.source import Mark, Source
from logger.wire.model import WireModel, document_of, text_of


class BandModel(WireModel):
    """A limit; null where the procedure gives nothing, with where the values come from."""

    min: float | None
    target: float | None
    max: float | None
    source: str
    mark: Mark


class StepModel(WireModel):
    """One step in order; `step` numbers repeated cooling steps from 1, null otherwise."""

    phase: Phase
    step: int | None
    gauge_pressure_bar: BandModel
    interface_pressure_MPa: BandModel
    duration_s: BandModel
    bead_height_mm: float | None
    bead_height_source: str
    bead_height_mark: Mark
    dwell_s: float = 0.0
    dwell_after_s: float = 0.0


class CoolingEndModel(WireModel):
    """One of the ends of cooling after the pressure is taken off, counted from that moment."""

    kind: CoolingEndKind
    duration_s: BandModel


class PreparationModel(WireModel):
    """One check before the plate goes in; its limit is in mm, all null where it has none."""

    code: PreparationCode
    limit_mm: BandModel
    source: str
    mark: Mark


class NoticeModel(WireModel):
    """A caution or remark: a code and its parameters."""

    code: str
    parameters: dict[str, str | float]


class PlanModel(WireModel):
    """Everything the procedure asks of one joint."""

    schema_: Literal["beadwatch.plan/1"] = Field(alias="schema")
    procedure: str
    title: str
    material: str
    outside_diameter_mm: float
    wall_mm: float
    wall_rule: str
    sdr: float | None
    pipe_area_mm2: float
    piston_area_mm2: float | None
    drag_pressure_bar: float | None
    ambient_temperature_degC: float | None
    joining_force_N: float
    plate_temperature_degC: BandModel
    steps: tuple[StepModel, ...]
    soak_limit_includes_drag: bool
    soak_limit_source: str
    soak_limit_mark: Mark
    bead_measure: BeadMeasure
    cooling_ends: tuple[CoolingEndModel, ...]
    preparation: tuple[PreparationModel, ...]
    heat_through_s: BandModel | None = None
    """Least time of the plate in its band before work; null in a plan from before it was counted."""
    notes: tuple[str, ...]
    procedure_digest: str
    cautions: tuple[NoticeModel, ...]
    remarks: tuple[NoticeModel, ...]


def plan_to_json(plan: JointPlan) -> str:
    """Return one line of JSON: fixed key order, floats at full precision, newline at the end."""
    return text_of(plan_model(plan))


def plan_from_json(text: str, file: str = "") -> JointPlan:
    """Read a plan back. Raises InputError naming the first wrong key."""
    return plan_value(document_of(PlanModel, text, file))


def plan_model(plan: JointPlan) -> PlanModel:
    return PlanModel(
        schema="beadwatch.plan/1",
        procedure=plan.procedure,
        title=plan.title,
        material=plan.material,
        outside_diameter_mm=plan.outside_diameter_mm,
        wall_mm=plan.wall_mm,
        wall_rule=plan.wall_rule,
        sdr=plan.sdr,
        pipe_area_mm2=plan.pipe_area_mm2,
        piston_area_mm2=plan.piston_area_mm2,
        drag_pressure_bar=plan.drag_pressure_bar,
        ambient_temperature_degC=plan.ambient_temperature_degC,
        joining_force_N=plan.joining_force_N,
        plate_temperature_degC=band_model(plan.plate_temperature_degC),
        steps=tuple(_step_model(step) for step in plan.steps),
        soak_limit_includes_drag=plan.soak_limit_includes_drag,
        soak_limit_source=plan.soak_limit_source.text,
        soak_limit_mark=plan.soak_limit_source.mark,
        bead_measure=plan.bead_measure,
        cooling_ends=tuple(
            CoolingEndModel(kind=end.kind, duration_s=band_model(end.duration_s)) for end in plan.cooling_ends
        ),
        preparation=tuple(
            PreparationModel(
                code=check.code,
                limit_mm=band_model(check.limit_mm),
                source=check.source.text,
                mark=check.source.mark,
            )
            for check in plan.preparation
        ),
        heat_through_s=band_model(plan.heat_through_s) if plan.heat_through_s.is_given else None,
        notes=plan.notes,
        procedure_digest=plan.procedure_digest,
        cautions=tuple(_notice_model(notice) for notice in plan.cautions),
        remarks=tuple(_notice_model(notice) for notice in plan.remarks),
    )


def plan_value(model: PlanModel) -> JointPlan:
    return JointPlan(
        procedure=model.procedure,
        title=model.title,
        material=model.material,
        outside_diameter_mm=model.outside_diameter_mm,
        wall_mm=model.wall_mm,
        wall_rule=model.wall_rule,
        sdr=model.sdr,
        pipe_area_mm2=model.pipe_area_mm2,
        piston_area_mm2=model.piston_area_mm2,
        drag_pressure_bar=model.drag_pressure_bar,
        ambient_temperature_degC=model.ambient_temperature_degC,
        joining_force_N=model.joining_force_N,
        plate_temperature_degC=_band(model.plate_temperature_degC),
        steps=tuple(_step(step) for step in model.steps),
        soak_limit_includes_drag=model.soak_limit_includes_drag,
        soak_limit_source=Source(mark=model.soak_limit_mark, text=model.soak_limit_source),
        bead_measure=model.bead_measure,
        cooling_ends=tuple(
            CoolingEnd(kind=end.kind, duration_s=_band(end.duration_s)) for end in model.cooling_ends
        ),
        preparation=tuple(
            PreparationLimit(
                code=check.code,
                limit_mm=_band(check.limit_mm),
                source=Source(mark=check.mark, text=check.source),
            )
            for check in model.preparation
        ),
        heat_through_s=NO_BAND if model.heat_through_s is None else _band(model.heat_through_s),
        notes=model.notes,
        procedure_digest=model.procedure_digest,
        cautions=tuple(_notice(notice) for notice in model.cautions),
        remarks=tuple(_notice(notice) for notice in model.remarks),
    )


def band_model(band: Band) -> BandModel:
    return BandModel(
        min=band.min, target=band.target, max=band.max, source=band.source.text, mark=band.source.mark
    )


def _band(model: BandModel) -> Band:
    return Band(
        min=model.min, target=model.target, max=model.max, source=Source(mark=model.mark, text=model.source)
    )


def _step_model(step: PlanStep) -> StepModel:
    return StepModel(
        phase=step.phase,
        step=step.step,
        gauge_pressure_bar=band_model(step.gauge_pressure_bar),
        interface_pressure_MPa=band_model(step.interface_pressure_MPa),
        duration_s=band_model(step.duration_s),
        bead_height_mm=step.bead_height_mm,
        bead_height_source=step.bead_height_source.text,
        bead_height_mark=step.bead_height_source.mark,
        dwell_s=step.dwell_s,
        dwell_after_s=step.dwell_after_s,
    )


def _step(model: StepModel) -> PlanStep:
    return PlanStep(
        phase=model.phase,
        step=model.step,
        gauge_pressure_bar=_band(model.gauge_pressure_bar),
        interface_pressure_MPa=_band(model.interface_pressure_MPa),
        duration_s=_band(model.duration_s),
        bead_height_mm=model.bead_height_mm,
        bead_height_source=Source(mark=model.bead_height_mark, text=model.bead_height_source),
        dwell_s=model.dwell_s,
        dwell_after_s=model.dwell_after_s,
    )


def _notice_model(notice: Notice) -> NoticeModel:
    return NoticeModel(code=notice.code, parameters=dict(notice.parameters))


def _notice(model: NoticeModel) -> Notice:
    return Notice(code=model.code, parameters=model.parameters)
