"""Joints of a record, as the recorder answers for them: judged from the joint drawn by hand."""

from functools import cache

from logger.domain.judgement import Boundary, Finding, Judgement, PhaseSpan, Severity, Verdict
from logger.domain.phase import Phase
from logger.domain.rig import Origin
from logger.wire.desk import StatementModel
from logger.wire.history import CurveMessage, JointDetail, JointList, JointSummary
from logger.wire.judgement import judgement_model
from logger.wire.plan import plan_model
from tests.unit.tui.fake_link import UUID, plan
from tests.unit.tui.screens import PHASES, RELEASED_S, message_at

SECOND_UUID = "00000000-0000-4000-8000-000000000118"
FAULT = Finding(
    code="changeover.duration.long", severity=Severity.FAULT, measured=7.4, limit=5.5, unit="s",
    start_s=196.0, end_s=203.4, clause="DVS 2207-1:2015, table 2", standard_uncertainty=0.1,
)  # fmt: skip


def judgement(verdict: Verdict = Verdict.CONFORMING) -> Judgement:
    """Of the joint drawn by hand; a nonconforming one has a fault."""
    ends = [*(start_s for _, start_s in PHASES[1:]), RELEASED_S]
    spans = tuple(
        PhaseSpan(
            phase=Phase(name), start=Boundary(at_s=start_s, u_s=0.05), end=Boundary(at_s=end_s, u_s=0.05)
        )
        for (name, start_s), end_s in zip(PHASES, ends, strict=True)
    )
    findings = (FAULT,) if verdict is Verdict.NONCONFORMING else ()
    return Judgement(
        joint="K-117", verdict=verdict, reasons=(), decision_rule="as documented", plan=plan(), phases=spans,
        findings=findings, other_joints=(), origin=Origin.LIVE, time_scale=1.0,
    )  # fmt: skip


def summary(uuid: str = UUID, number: str = "K-117", verdict: str | None = "conforming") -> JointSummary:
    return JointSummary(
        uuid=uuid, number=number, project="Lindmoor water main", operator="J. Tarrow", attempt=1,
        previous_uuid=None, procedure="dvs-2207-1:2015", opened_utc="2026-11-25T08:00:00Z", utc_verified=True,
        ended="finished", verdict=verdict, origin="live", time_scale=1.0,
    )  # fmt: skip


def said(kind: str, **body: object) -> StatementModel:
    return StatementModel(
        seq=1, kind=kind, author="S. Brandt", reason="", at_utc="2026-11-25T08:20:00Z", at_s=None, body=body
    )


@cache
def curve() -> CurveMessage:
    samples = message_at(600.0).samples
    return CurveMessage(is_thinned=False, sample_count=len(samples.t_s), samples=samples)


def answers(
    *statements: StatementModel, verdict: Verdict = Verdict.CONFORMING, uuid: str = UUID
) -> dict[str, object]:
    """All routes of one joint."""
    detail = JointDetail(
        summary=replace_verdict(summary(uuid), verdict), ended_reason="", claimed_by=None, claim_reason=None,
        plan=plan_model(plan()), rig={}, events=(), statements=statements,
    )  # fmt: skip
    return {
        f"/v1/joints/{uuid}": detail,
        f"/v1/joints/{uuid}/judgement": judgement_model(judgement(verdict)),
        f"/v1/joints/{uuid}/curve?points=4000": curve(),
        "/v1/joints?limit=50": listed(replace_verdict(summary(uuid), verdict)),
    }


def replace_verdict(one: JointSummary, verdict: Verdict) -> JointSummary:
    return one.model_copy(update={"verdict": verdict.value})


def listed(*joints: JointSummary) -> JointList:
    return JointList(joints=joints, is_more=False)
