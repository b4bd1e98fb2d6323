"""A plan and a judgement in which every field has a value of its own."""

from logger.domain.band import NO_BAND, Band
from logger.domain.joint_plan import CoolingEnd, JointPlan, Notice, PlanStep
from logger.domain.judgement import (
    Boundary,
    Finding,
    Judgement,
    OtherJoint,
    PhaseSpan,
    Severity,
    Verdict,
)
from logger.domain.phase import PHASES, Phase
from logger.domain.procedure import BeadMeasure, CoolingEndKind, PreparationCode, PreparationLimit
from logger.domain.rig import Origin
from logger.domain.source import NOT_GIVEN, Mark, Source

SOURCE = Source(mark=Mark.MEMORY, text="invented for this test, table 1")


def step(phase: Phase, number: int | None = None) -> PlanStep:
    return PlanStep(
        phase=phase,
        step=number,
        gauge_pressure_bar=Band(min=0.1 + 0.2, target=1 / 3, max=2 / 3, source=SOURCE),
        interface_pressure_MPa=Band(max=0.02, source=SOURCE),
        duration_s=NO_BAND if number is None else Band(min=60.0 * number, source=SOURCE),
        bead_height_mm=1.5 if phase is Phase.BEAD_UP else None,
        bead_height_source=SOURCE if phase is Phase.BEAD_UP else NOT_GIVEN,
    )


PLAN = JointPlan(
    procedure="example:2031",
    title="Example procedure",
    material="PE100",
    outside_diameter_mm=180.0,
    wall_mm=180.0 / 11.0,
    wall_rule="dn/sdr",
    sdr=11.0,
    pipe_area_mm2=8411.123456789012,
    piston_area_mm2=629.0,
    drag_pressure_bar=12.0,
    ambient_temperature_degC=-5.5,
    joining_force_N=1261.6685185183519,
    plate_temperature_degC=Band(min=200.0, target=210.0, max=220.0, source=SOURCE),
    steps=(
        *(step(phase) for phase in PHASES[:-1]),
        step(Phase.COOLING, 1),
        step(Phase.COOLING, 2),
    ),
    soak_limit_includes_drag=True,
    soak_limit_source=SOURCE,
    bead_measure=BeadMeasure.WIDTH,
    preparation=(
        PreparationLimit(code=PreparationCode.GAP, limit_mm=Band(max=0.5, source=SOURCE), source=SOURCE),
    ),
    notes=("One note of the procedure file.",),
    cooling_ends=(CoolingEnd(kind=CoolingEndKind.IN_MACHINE, duration_s=Band(min=60.0, source=SOURCE)),),
    procedure_digest="0f" * 32,
    cautions=(Notice(code="figures.unverified", parameters={"edition": "2031", "count": 3.0}),),
    remarks=(Notice(code="wall.by_rule"),),
)

JUDGEMENT = Judgement(
    joint="A-001",
    verdict=Verdict.NONCONFORMING,
    reasons=("changeover.duration.long", "é"),
    decision_rule="simple acceptance",
    plan=PLAN,
    phases=tuple(
        PhaseSpan(
            phase=phase,
            start=Boundary(at_s=0.1 * (index + 3), u_s=0.1 / 6**0.5),
            end=Boundary(reason="trace_ends") if phase is Phase.COOLING else Boundary(at_s=7.7, u_s=0.3),
        )
        for index, phase in enumerate(PHASES)
    ),
    findings=(
        Finding(
            code="changeover.duration.long",
            severity=Severity.FAULT,
            measured=9.1,
            limit=6.0,
            unit="s",
            start_s=20.0,
            end_s=29.1,
            clause="invented for this test, clause 1",
            standard_uncertainty=0.05,
        ),
        Finding(
            code="plate.temperature.low",
            severity=Severity.REMARK,
            measured=None,
            limit=None,
            unit="degC",
            start_s=None,
            end_s=None,
            clause="",
        ),
    ),
    other_joints=(OtherJoint(start_s=1.0, end_s=2.0),),
    origin=Origin.REPLAY,
    time_scale=10.0,
    drag_detected_bar=11.75,
    unverified_limits=True,
)
