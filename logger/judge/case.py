"""Everything a rule may look at, and the form in which it answers."""

from dataclasses import dataclass

from logger.domain.band import Band
from logger.domain.channel import Channel, Quantity
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.judgement import Finding, PhaseSpan, Severity
from logger.domain.phase import Phase
from logger.domain.rig import Rig
from logger.domain.source import Mark, Source
from logger.judge.decision import Answer, Measured, against_max, against_min, combined
from logger.phases.detect import Detection
from logger.phases.series import Series

TIME_DIGITS = 3
VALUE_DIGITS = 3
"""Measured values are rounded once, before comparison: milliseconds, thousandths of a bar or degree."""

PRACTICE = Source(mark=Mark.PRACTICE, text="remark only, the procedure gives no limit")


@dataclass(frozen=True)
class Outcome:
    """What one rule found: findings, and the codes of limits that could not be decided."""

    findings: tuple[Finding, ...] = ()
    undecided: tuple[str, ...] = ()

    def __add__(self, other: "Outcome") -> "Outcome":
        return Outcome(self.findings + other.findings, self.undecided + other.undecided)


NOTHING = Outcome()


@dataclass(frozen=True)
class Case:
    """One joint before the judge."""

    plan: JointPlan
    detection: Detection
    rig: Rig | None = None

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

    def u_of(self, quantity: Quantity) -> float:
        """Declared standard uncertainty with the resolution's share; 0 where none was declared."""
        channel: Channel | None = self.rig.channel_of(quantity) if self.rig else None
        if channel is None or channel.standard_uncertainty is None:
            return 0.0
        return combined(channel.standard_uncertainty, channel.resolution / 12**0.5)


def clause_of(source: Source) -> str:
    """Source text and mark in one line, as findings print it."""
    return f"{source.text} [{source.mark}]" if source.text else f"[{source.mark}]"


@dataclass(frozen=True)
class Limit:
    """One edge to hold a measured value against."""

    code: str
    value: float
    unit: str
    source: Source
    is_max: bool
    severity: Severity = Severity.FAULT

    def check(self, measured: Measured, start_s: float | None, end_s: float | None) -> Outcome:
        """Compare once; a remark decides nothing, so it needs no guard band and leaves nothing undecided."""
        held = measured.rounded(TIME_DIGITS if self.unit == "s" else VALUE_DIGITS)
        compared = held if self.severity is Severity.FAULT else Measured(held.value)
        answer = (against_max if self.is_max else against_min)(compared, self.value)
        if answer is Answer.INSIDE:
            return NOTHING
        if answer is Answer.CANNOT_TELL:
            too_close = f"{self.code}.within_uncertainty"
            return Outcome(undecided=(too_close,))
        finding = Finding(
            code=self.code,
            severity=self.severity,
            measured=held.value,
            limit=self.value,
            unit=self.unit,
            start_s=start_s,
            end_s=end_s,
            clause=clause_of(self.source),
            standard_uncertainty=held.u or None,
        )
        return Outcome(findings=(finding,))


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
