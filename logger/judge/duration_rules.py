"""Durations against the plan, phase by phase."""

from logger.domain.judgement import Boundary, PhaseSpan, Severity
from logger.domain.phase import Phase
from logger.judge.case import NOTHING, PRACTICE, Case, Limit, Outcome, at_least, at_most
from logger.judge.decision import Measured, combined

# Remarks where procedures are silent; common practice, no source.
BEAD_UP_LONG_SHARE_OF_SOAK = 0.5
BEAD_UP_LONG_MIN_S = 30.0
SOAK_LONG_SHARE = 1.25
BUILD_UP_SHORT_SHARE = 0.2


def duration(span: PhaseSpan) -> Measured | None:
    """Length of a phase with the uncertainty of both boundaries; None where one of them was not seen."""
    seconds = span.duration_s
    return None if seconds is None else Measured(seconds, combined(span.start.u_s, span.end.u_s))


def bead_up_duration(case: Case) -> Outcome:
    span, band = case.span(Phase.BEAD_UP), case.step(Phase.BEAD_UP).duration_s
    given = [at_most("bead_up.duration.long", band.max, "s", band.source)] if band.max else []
    if band.min:
        given.append(at_least("bead_up.duration.short", band.min, "s", band.source))
    if given:
        return _against(case, span, given)
    soak_s = case.step(Phase.HEAT_SOAK).duration_s.target or case.step(Phase.HEAT_SOAK).duration_s.min
    if soak_s is None:
        return NOTHING
    long_s = max(BEAD_UP_LONG_MIN_S, BEAD_UP_LONG_SHARE_OF_SOAK * soak_s)
    return _remark(span, at_most("bead_up.duration.long", long_s, "s", PRACTICE, Severity.REMARK))


def heat_soak_duration(case: Case) -> Outcome:
    span, band = case.span(Phase.HEAT_SOAK), case.step(Phase.HEAT_SOAK).duration_s
    limits = []
    if band.min is not None:
        limits.append(at_least("heat_soak.duration.short", band.min, "s", band.source))
    if band.max is not None:
        limits.append(at_most("heat_soak.duration.long", band.max, "s", band.source))
    outcome = _against(case, span, limits)
    aim_s = band.target if band.target is not None else band.min
    if band.max is None and aim_s is not None:
        long = at_most("heat_soak.duration.long", SOAK_LONG_SHARE * aim_s, "s", PRACTICE, Severity.REMARK)
        outcome += _remark(span, long)
    return outcome


def changeover_duration(case: Case) -> Outcome:
    span, band = case.span(Phase.CHANGEOVER), case.step(Phase.CHANGEOVER).duration_s
    if band.max is None:
        return NOTHING
    limit = at_most("changeover.duration.long", band.max, "s", band.source)
    return _against(case, span, [limit])


def build_up_duration(case: Case) -> Outcome:
    span, band = case.span(Phase.PRESSURE_BUILD_UP), case.step(Phase.PRESSURE_BUILD_UP).duration_s
    limits = []
    if band.max is not None:
        limits.append(at_most("pressure_build_up.duration.long", band.max, "s", band.source))
    if band.min is not None:
        limits.append(at_least("pressure_build_up.duration.short", band.min, "s", band.source))
    outcome = _against(case, span, limits)
    if band.min is None and band.max is not None:
        short_s = BUILD_UP_SHORT_SHARE * band.max
        short = at_least("pressure_build_up.duration.short", short_s, "s", PRACTICE, Severity.REMARK)
        outcome += _remark(span, short)
    return outcome


def cooling_duration(case: Case) -> Outcome:
    """Cooling against its minimum; a trace that ends in band before the time is up decides nothing."""
    span = case.span(Phase.COOLING)
    steps = [step.duration_s for step in case.plan.steps_of(Phase.COOLING)]
    minima = [band.min if band.min is not None else band.target for band in steps]
    needed_s = sum(m for m in minima if m is not None)
    if not needed_s:
        return NOTHING
    limit = at_least("cooling.duration.short", needed_s, "s", steps[-1].source)
    if span.end.reason != "trace_ends" or span.start.at_s is None:
        return _against(case, span, [limit])
    so_far = Measured(case.detection.trace.end_s - span.start.at_s, span.start.u_s or 0.0)
    done = limit.check(so_far, span.start.at_s, None) == NOTHING
    return NOTHING if done else Outcome(undecided=("cooling.duration.trace_ends",))


def _against(case: Case, span: PhaseSpan, limits: list[Limit]) -> Outcome:
    measured = duration(span)
    if not limits:
        return NOTHING
    if measured is None:
        return Outcome(undecided=_unseen(span))
    outcome = NOTHING
    for limit in limits:
        outcome += limit.check(measured, span.start.at_s, span.end.at_s)
    return outcome


def _remark(span: PhaseSpan, limit: Limit) -> Outcome:
    measured = duration(span)
    return NOTHING if measured is None else limit.check(measured, span.start.at_s, span.end.at_s)


def _unseen(span: PhaseSpan) -> tuple[str, ...]:
    """Name the boundaries that were missing, with the reason each carries."""

    def missing(name: str, boundary: Boundary) -> list[str]:
        return [f"{span.phase}.{name}.{boundary.reason}"] if boundary.at_s is None else []

    return tuple(missing("start", span.start) + missing("end", span.end))
