"""Durations against the plan, phase by phase."""

from logger.domain.judgement import Boundary, PhaseSpan, Severity, Undecided
from logger.domain.phase import Phase
from logger.judge.budget import duration_of
from logger.judge.case import NOTHING, PRACTICE, Case, Limit, Outcome, at_least, at_most
from logger.judge.connection import lost_connection
from logger.judge.decision import Measured, combined
from logger.judge.doubts import doubt
from logger.judge.windows import needed_s

# Remarks where procedures are silent; common practice, no source.
BEAD_UP_LONG_SHARE_OF_SOAK = 0.5
BEAD_UP_LONG_MIN_S = 30.0
SOAK_LONG_SHARE = 1.25
BUILD_UP_SHORT_SHARE = 0.2


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
    return _remark(case, span, at_most("bead_up.duration.long", long_s, "s", PRACTICE, Severity.REMARK))


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
        outcome += _remark(case, span, long)
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
        outcome += _remark(case, span, short)
    return outcome


def cooling_duration(case: Case) -> Outcome:
    """Cooling against its minimum; a trace that ends in band before the time is surely up decides nothing."""
    span = case.span(Phase.COOLING)
    steps = case.plan.steps_of(Phase.COOLING)
    least_s = sum(needed_s(step) for step in steps)
    if not least_s:
        return NOTHING
    if lost_connection(case):
        return Outcome(undecided=(doubt("cooling.pressure.not_connected"),))
    limit = at_least("cooling.duration.short", least_s, "s", steps[-1].duration_s.source)
    if span.end.reason != "trace_ends" or span.start.at_s is None:
        return _against(case, span, [limit])
    interval_s = case.pressure.interval_s
    u_s = max(combined(span.start.u_s), interval_s / 6**0.5)
    so_far = Measured(case.detection.trace.end_s - span.start.at_s, u_s, long_tailed=True)
    held = limit.check(so_far, span.start.at_s, None)
    return Outcome(undecided=(doubt("cooling.duration.trace_ends"),)) if held.findings else held


def _against(case: Case, span: PhaseSpan, limits: list[Limit]) -> Outcome:
    measured = duration_of(span, case.pressure.interval_s)
    if not limits:
        return NOTHING
    if measured is None:
        return Outcome(undecided=_unseen(span))
    outcome = NOTHING
    for limit in limits:
        outcome += limit.check(measured, span.start.at_s, span.end.at_s)
    return outcome


def _remark(case: Case, span: PhaseSpan, limit: Limit) -> Outcome:
    measured = duration_of(span, case.pressure.interval_s)
    return NOTHING if measured is None else limit.check(measured, span.start.at_s, span.end.at_s)


def _unseen(span: PhaseSpan) -> tuple[Undecided, ...]:
    """Name the boundaries that were missing, with the reason each carries."""

    def missing(name: str, boundary: Boundary) -> list[Undecided]:
        return [] if boundary.at_s is not None else [doubt(f"{span.phase}.{name}.{boundary.reason}")]

    return tuple(missing("start", span.start) + missing("end", span.end))
