"""The judgement as JSON, schema `beadwatch.judgement/1`."""

from dataclasses import asdict
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

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
from logger.domain.phase import PHASES, Phase
from logger.domain.rig import Origin
from logger.wire.measures import MeasuresModel, measures_model, measures_value
from logger.wire.model import WireModel, document_of, text_of
from logger.wire.plan import PlanModel, plan_model, plan_value


class PhaseModel(WireModel):
    """One phase; null where the rig could not show the boundary, then with the reason."""

    phase: Phase
    start_s: float | None
    end_s: float | None
    start_u_s: float | None
    end_u_s: float | None
    start_reason: str
    end_reason: str


def _each_phase_once(phases: tuple[PhaseModel, ...]) -> tuple[PhaseModel, ...]:
    if tuple(phase.phase for phase in phases) != PHASES:
        raise ValueError(f"each phase once, in this order: {', '.join(PHASES)}")
    return phases


class FindingModel(WireModel):
    """One deviation, with the clause its limit comes from."""

    code: str
    severity: Severity
    measured: float | None
    limit: float | None
    unit: str
    start_s: float | None
    end_s: float | None
    clause: str
    standard_uncertainty: float | None
    conformance_probability: float | None = None
    coverage_factor: float | None = None
    rule: str = ""


class UndecidedModel(WireModel):
    """One thing that could not be decided; figures where a value was weighed against a limit."""

    code: str
    missing: Missing
    settles: Settles
    measured: float | None
    limit: float | None
    unit: str
    start_s: float | None
    end_s: float | None
    standard_uncertainty: float | None
    conformance_probability: float | None
    coverage_factor: float | None
    rule: str
    needed_u: float | None


class OtherJointModel(WireModel):
    """A further heating cycle in the same trace, not judged."""

    start_s: float
    end_s: float


class JudgementModel(WireModel):
    """The verdict of the recorded curve; times are seconds on the trace's own clock."""

    schema_: Literal["beadwatch.judgement/1"] = Field(alias="schema")
    joint: str | None
    verdict: Verdict
    reasons: tuple[str, ...]
    decision_rule: str
    plan: PlanModel | None
    phases: Annotated[
        tuple[PhaseModel, ...],
        Field(min_length=len(PHASES), max_length=len(PHASES)),
        AfterValidator(_each_phase_once),
    ]
    findings: tuple[FindingModel, ...]
    other_joints: tuple[OtherJointModel, ...]
    origin: Origin
    time_scale: float
    drag_detected_bar: float | None
    unverified_limits: bool
    undecided: tuple[UndecidedModel, ...] = ()
    information: tuple[str, ...] = ()
    measures: MeasuresModel | None = None


def to_json(judgement: Judgement) -> str:
    """Return one line of JSON: fixed key order, floats at full precision, newline at the end."""
    return text_of(judgement_model(judgement))


def judgement_from_json(text: str, file: str = "") -> Judgement:
    """Read a judgement back. Raises InputError naming the first wrong key."""
    return judgement_value(document_of(JudgementModel, text, file))


def judgement_model(judgement: Judgement) -> JudgementModel:
    return JudgementModel(
        schema="beadwatch.judgement/1",
        joint=judgement.joint,
        verdict=judgement.verdict,
        reasons=judgement.reasons,
        decision_rule=judgement.decision_rule,
        plan=None if judgement.plan is None else plan_model(judgement.plan),
        phases=tuple(_phase_model(span) for span in judgement.phases),
        findings=tuple(_finding_model(finding) for finding in judgement.findings),
        other_joints=tuple(
            OtherJointModel(start_s=other.start_s, end_s=other.end_s) for other in judgement.other_joints
        ),
        origin=judgement.origin,
        time_scale=judgement.time_scale,
        drag_detected_bar=judgement.drag_detected_bar,
        unverified_limits=judgement.unverified_limits,
        undecided=tuple(UndecidedModel(**asdict(one)) for one in judgement.undecided),
        information=judgement.information,
        measures=None if judgement.measures is None else measures_model(judgement.measures),
    )


def judgement_value(model: JudgementModel) -> Judgement:
    return Judgement(
        joint=model.joint,
        verdict=model.verdict,
        reasons=model.reasons,
        decision_rule=model.decision_rule,
        plan=None if model.plan is None else plan_value(model.plan),
        phases=tuple(_span(phase) for phase in model.phases),
        findings=tuple(_finding(finding) for finding in model.findings),
        other_joints=tuple(
            OtherJoint(start_s=other.start_s, end_s=other.end_s) for other in model.other_joints
        ),
        origin=model.origin,
        time_scale=model.time_scale,
        drag_detected_bar=model.drag_detected_bar,
        unverified_limits=model.unverified_limits,
        undecided=tuple(Undecided(**dict(one)) for one in model.undecided),
        information=model.information,
        measures=None if model.measures is None else measures_value(model.measures),
    )


def _phase_model(span: PhaseSpan) -> PhaseModel:
    return PhaseModel(
        phase=span.phase,
        start_s=span.start.at_s,
        end_s=span.end.at_s,
        start_u_s=span.start.u_s,
        end_u_s=span.end.u_s,
        start_reason=span.start.reason,
        end_reason=span.end.reason,
    )


def _span(model: PhaseModel) -> PhaseSpan:
    return PhaseSpan(
        phase=model.phase,
        start=Boundary(at_s=model.start_s, u_s=model.start_u_s, reason=model.start_reason),
        end=Boundary(at_s=model.end_s, u_s=model.end_u_s, reason=model.end_reason),
    )


def _finding_model(finding: Finding) -> FindingModel:
    return FindingModel(
        code=finding.code,
        severity=finding.severity,
        measured=finding.measured,
        limit=finding.limit,
        unit=finding.unit,
        start_s=finding.start_s,
        end_s=finding.end_s,
        clause=finding.clause,
        standard_uncertainty=finding.standard_uncertainty,
        conformance_probability=finding.conformance_probability,
        coverage_factor=finding.coverage_factor,
        rule=finding.rule,
    )


def _finding(model: FindingModel) -> Finding:
    return Finding(
        code=model.code,
        severity=model.severity,
        measured=model.measured,
        limit=model.limit,
        unit=model.unit,
        start_s=model.start_s,
        end_s=model.end_s,
        clause=model.clause,
        standard_uncertainty=model.standard_uncertainty,
        conformance_probability=model.conformance_probability,
        coverage_factor=model.coverage_factor,
        rule=model.rule,
    )
