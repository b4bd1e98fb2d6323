"""What the recorded curve says: phases with their boundaries, findings, verdict."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.rig import Origin


class Verdict(StrEnum):
    """Verdict of the recorded curve; it says nothing about what a curve cannot show."""

    CONFORMING = "conforming"
    NONCONFORMING = "nonconforming"
    UNDECIDED = "undecided"


class Severity(StrEnum):
    FAULT = "fault"
    REMARK = "remark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Boundary:
    """One edge of a phase on the trace's own clock.

    `at_s` is None where the rig could not show it, with the `reason` code; `u_s` is its standard uncertainty.
    """

    at_s: float | None = None
    u_s: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSpan:
    """One phase between its boundaries, which follow DEVELOPERS.md "Boundaries"."""

    phase: Phase
    start: Boundary
    end: Boundary

    @property
    def duration_s(self) -> float | None:
        if self.start.at_s is None or self.end.at_s is None:
            return None
        return self.end.at_s - self.start.at_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One deviation: `code` is `<phase or plate>.<quantity>.<direction>`, `clause` has source and mark."""

    code: str
    severity: Severity
    measured: float | None
    limit: float | None
    unit: str
    start_s: float | None
    end_s: float | None
    clause: str
    standard_uncertainty: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherJoint:
    """A further heating cycle seen in the same trace; only the last complete one is judged."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """The judgement of one curve; `plan` is None when no joint file was given."""

    joint: str | None
    verdict: Verdict
    reasons: tuple[str, ...]
    decision_rule: str
    plan: JointPlan | None
    phases: tuple[PhaseSpan, ...]
    findings: tuple[Finding, ...]
    other_joints: tuple[OtherJoint, ...]
    origin: Origin
    time_scale: float
    drag_detected_bar: float | None = None
    unverified_limits: bool = False
