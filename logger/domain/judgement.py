"""What the recorded curve says: phases with their boundaries, findings, verdict."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.joint_plan import JointPlan
from logger.domain.measures import Measures
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


class Missing(StrEnum):
    """What stood in the way of a decision."""

    GUARD_BAND = "guard_band"
    """The measured value lies closer to its limit than its uncertainty allows."""
    GAP = "gap"
    """Readings are missing over a boundary."""
    SENSOR = "sensor"
    """A channel is not fitted, was lost, or is not connected to what it should measure."""
    BOUNDARY = "boundary"
    """The boundary does not show in the readings there are."""
    REST_OF_RECORDING = "rest_of_recording"
    PLAN = "plan"


class Settles(StrEnum):
    """The reading, or the paper, that would have settled it."""

    CARRIAGE_POSITION = "carriage_position"
    PLATE_SWITCH = "plate_switch"
    PRESSURE_TRANSMITTER = "pressure_transmitter"
    """One with a smaller uncertainty, or one that works."""
    PLATE_THERMOMETER = "plate_thermometer"
    FASTER_SAMPLING = "faster_sampling"
    UNBROKEN_READINGS = "unbroken_readings"
    LONGER_RECORDING = "longer_recording"
    CLOSING_SIDE_GAUGE = "closing_side_gauge"
    DRAG_AND_AREA = "drag_and_area"
    JOINT_FILE = "joint_file"


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
    """One deviation: `code` is `<phase or plate>.<quantity>.<direction>`, `clause` has source and mark.

    `conformance_probability` is the chance that the true value keeps the limit, `coverage_factor` the guard
    band in standard uncertainties, `rule` the name of the decision rule; None and "" where nothing was
    weighed, as for remarks.
    """

    code: str
    severity: Severity
    measured: float | None
    limit: float | None
    unit: str
    start_s: float | None
    end_s: float | None
    clause: str
    standard_uncertainty: float | None = None
    conformance_probability: float | None = None
    coverage_factor: float | None = None
    rule: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Undecided:
    """One thing that could not be decided, what was missing and what would have settled it.

    The figures are there where a value was weighed against a limit, as in `Finding`. `needed_u` is the
    greatest standard uncertainty, in `unit`, that would have decided this limit whatever the others.
    """

    code: str
    missing: Missing
    settles: Settles
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    start_s: float | None = None
    end_s: float | None = None
    standard_uncertainty: float | None = None
    conformance_probability: float | None = None
    coverage_factor: float | None = None
    rule: str = ""
    needed_u: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherJoint:
    """A further heating cycle seen in the same trace; only the last complete one is judged."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """The judgement of one curve; `plan` is None when no joint file was given.

    `reasons` are the codes of `undecided`, each once. `information` are codes of what a reader should know
    and no verdict rests on. `measures` is None without a plan or without a heating cycle.
    """

    joint: str | None
    verdict: Verdict
    reasons: tuple[str, ...]
    decision_rule: str
    plan: JointPlan | None
    phases: tuple[PhaseSpan, ...]
    findings: tuple[Finding, ...]
    other_joints: tuple[OtherJoint, ...]
    origin: Origin
    time_scale: float = 1.0
    drag_detected_bar: float | None = None
    unverified_limits: bool = False
    undecided: tuple[Undecided, ...] = ()
    information: tuple[str, ...] = ()
    measures: Measures | None = None
