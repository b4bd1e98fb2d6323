"""Everything a rule may look at, and the form in which it answers."""

from dataclasses import dataclass

from logger.domain.band import Band
from logger.domain.channel import Quantity
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.judgement import Finding, PhaseSpan, Severity, Undecided
from logger.domain.phase import Phase
from logger.domain.plate_known import NOTHING_KNOWN, PlateKnown
from logger.domain.rig import Rig
from logger.domain.source import Mark, Source
from logger.judge.budget import weighed_by
from logger.judge.decision import (
    JOINT_RISK,
    RULE_NAME,
    Measured,
    chance_at_least,
    chance_at_most,
    coverage_factor,
)
from logger.phases.detect import Detection
from logger.phases.series import Series

TIME_DIGITS = 3
VALUE_DIGITS = 3
"""Measured values are rounded once, before comparison: milliseconds, thousandths of a bar or degree."""

PRACTICE = Source(mark=Mark.PRACTICE, text="remark only, the procedure gives no limit")


@dataclass(frozen=True)
class Limit:
    """One edge to hold a measured value against."""

    code: str
    value: float
    unit: str
    source: Source
    is_max: bool
    severity: Severity = Severity.FAULT

    def check(self, measured: Measured, start_s: float | None, end_s: float | None) -> "Outcome":
        """Compare once; a remark decides nothing, so it is compared plainly and leaves nothing to weigh."""
        held = measured.rounded(TIME_DIGITS if self.unit == "s" else VALUE_DIGITS)
        compared = held if self.severity is Severity.FAULT else Measured(held.value)
        chance = (chance_at_most if self.is_max else chance_at_least)(compared, self.value)
        weighed = Weighed(self, held, chance, start_s, end_s)
        if chance <= JOINT_RISK:
            return Outcome(findings=(weighed.finding(),))
        return Outcome(weighed=(weighed,)) if self.severity is Severity.FAULT else NOTHING


@dataclass(frozen=True)
class Weighed:
    """A measured value beside a limit, with the chance that the limit is kept."""

    limit: Limit
    measured: Measured
    chance: float
    start_s: float | None
    end_s: float | None

    @property
    def risk(self) -> float:
        return 1.0 - self.chance

    def finding(self) -> Finding:
        limit, is_fault = self.limit, self.limit.severity is Severity.FAULT
        return Finding(
            code=limit.code,
            severity=limit.severity,
            measured=self.measured.value,
            limit=limit.value,
            unit=limit.unit,
            start_s=self.start_s,
            end_s=self.end_s,
            clause=clause_of(limit.source),
            standard_uncertainty=self.measured.standard_uncertainty or None,
            conformance_probability=self.chance if is_fault else None,
            coverage_factor=coverage_factor(self.measured) if is_fault else None,
            rule=RULE_NAME if is_fault else "",
        )


@dataclass(frozen=True)
class Outcome:
    """What one rule found: findings, what could not be decided, and what was weighed against its limit."""

    findings: tuple[Finding, ...] = ()
    undecided: tuple[Undecided, ...] = ()
    weighed: tuple[Weighed, ...] = ()

    def __add__(self, other: "Outcome") -> "Outcome":
        return Outcome(
            self.findings + other.findings, self.undecided + other.undecided, self.weighed + other.weighed
        )


NOTHING = Outcome()


@dataclass(frozen=True)
class Case:
    """One joint before the judge."""

    plan: JointPlan
    detection: Detection
    rig: Rig | None = None
    plate_known: PlateKnown = NOTHING_KNOWN

    @property
    def pressure(self) -> Series:
        return self.detection.view.pressure

    @property
    def plate_temperature(self) -> Series:
        return self.detection.trace.plate_temperature

    def span(self, phase: Phase) -> PhaseSpan:
        return next(span for span in self.detection.spans if span.phase is phase)

    def step(self, phase: Phase) -> PlanStep:
        return self.plan.step_of(phase)

    def weighed(self, quantity: Quantity, value: float, noise: float = 0.0) -> Measured:
        """A value of one channel with its uncertainty budget."""
        return weighed_by(self.rig, quantity, value, noise)

    def declares(self, quantity: Quantity) -> bool:
        """Whether somebody declared the uncertainty of this channel."""
        channel = self.rig.channel_of(quantity) if self.rig else None
        return channel is not None and channel.standard_uncertainty is not None


def clause_of(source: Source) -> str:
    """Source text and mark in one line, as findings print it."""
    return f"{source.text} [{source.mark}]" if source.text else f"[{source.mark}]"


def at_most(code: str, value: float, unit: str, source: Source, severity: Severity = Severity.FAULT) -> Limit:
    """Make an upper limit."""
    return Limit(code, value, unit, source, is_max=True, severity=severity)


def at_least(
    code: str, value: float, unit: str, source: Source, severity: Severity = Severity.FAULT
) -> Limit:
    """Make a lower limit."""
    return Limit(code, value, unit, source, is_max=False, severity=severity)


def edges_of(band: Band, code: str, unit: str) -> tuple[Limit, ...]:
    """Both edges of a band as limits named `<code>.low` and `<code>.high`."""
    edges = []
    if band.min is not None:
        edges.append(at_least(f"{code}.low", band.min, unit, band.source))
    if band.max is not None:
        edges.append(at_most(f"{code}.high", band.max, unit, band.source))
    return tuple(edges)
