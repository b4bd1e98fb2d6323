"""A plan and a judgement in which every field has a value of its own."""

from logger.domain.band import NO_BAND, Band
from logger.domain.joint_plan import CoolingEnd, JointPlan, Notice, PlanStep
from logger.domain.judgement import (
    Boundary,
    Finding,
    Judgement,
    Missing,
    OtherJoint,
    PhaseSpan,
    Settles,
    Severity,
    Undecided,
    Verdict,
)
from logger.domain.measures import (
    DragMeasures,
    ExcursionSeen,
    Measures,
    PlateMeasures,
    Spread,
    StepMeasures,
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
        dwell_s=2.5,
        dwell_after_s=60.0,
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
    heat_through_s=Band(min=600.0, source=SOURCE),
    notes=("One note of the procedure file.",),
    cooling_ends=(CoolingEnd(kind=CoolingEndKind.IN_MACHINE, duration_s=Band(min=60.0, source=SOURCE)),),
    procedure_digest="0f" * 32,
    cautions=(Notice(code="figures.unverified", parameters={"edition": "2031", "count": 3.0}),),
    remarks=(Notice(code="wall.by_rule"),),
)

JUDGEMENT = Judgement(
    joint="A-001",
    verdict=Verdict.NONCONFORMING,
    reasons=(
        "changeover.duration.long",
        "é",
        "cooling.pressure.low.within_uncertainty",
        "changeover.start.opening_not_visible",
    ),
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
            conformance_probability=0.01,
            coverage_factor=1.645,
            rule="a rule",
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
    undecided=(
        Undecided(
            code="cooling.pressure.low.within_uncertainty",
            missing=Missing.GUARD_BAND,
            settles=Settles.PRESSURE_TRANSMITTER,
            measured=16.4,
            limit=16.2,
            unit="bar",
            start_s=30.0,
            end_s=40.0,
            standard_uncertainty=0.5,
            conformance_probability=0.6,
            coverage_factor=1.645,
            rule="a rule",
            needed_u=0.12,
        ),
        Undecided(
            code="changeover.start.opening_not_visible",
            missing=Missing.BOUNDARY,
            settles=Settles.CARRIAGE_POSITION,
        ),
    ),
    information=("contact.force.not_observed",),
    measures=Measures(
        steps=(
            StepMeasures(
                phase=Phase.COOLING,
                step=2,
                start_s=31.0,
                end_s=99.0,
                gauge_bar=Spread(mean=17.9, least=16.1, greatest=18.2),
                mean_u_bar=0.01,
                readings_effective=210.5,
                interface_MPa=Spread(mean=0.15, least=-0.01, greatest=0.16),
                friction_MPa=0.02,
                in_band_share=0.97,
                longest_excursion_s=1.5,
                area_outside_bar_s=0.7,
                overshoot_bar=0.3,
                leak_down_bar_per_min=0.05,
                top_ups=3,
                excursions=(
                    ExcursionSeen(
                        start_s=40.0, end_s=41.5, extreme_bar=16.1, limit_bar=16.2, since_contact_s=12.0
                    ),
                ),
            ),
        ),
        plate=PlateMeasures(
            at_contact_degC=221.0,
            at_removal_degC=219.5,
            least_degC=216.0,
            heat="counting",
            heat_through_s=200.0,
        ),
        drag=DragMeasures(
            confirmed_bar=12.0,
            detected_bar=11.75,
            spread_bar=0.2,
            breakaway_bar=15.0,
            measured_at_s=1.5,
        ),
    ),
)
