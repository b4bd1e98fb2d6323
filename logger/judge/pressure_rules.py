"""Gauge pressure against the plan, phase by phase, on the noise-free curve."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from logger.domain.band import Band
from logger.domain.channel import Quantity
from logger.domain.joint_plan import PlanStep
from logger.domain.judgement import Severity
from logger.domain.phase import Phase
from logger.domain.source import Mark, Source
from logger.judge.case import NOTHING, PRACTICE, Case, Limit, Outcome, at_least, at_most, edges_of
from logger.judge.connection import can_be_shut_off, reads_nothing
from logger.judge.doubts import doubt
from logger.judge.excursions import (
    AVERAGING_S,
    LEVEL_SIGMAS,
    NOISE_SIGMAS,
    Excursion,
    beyond,
    levels_of,
    smoothed,
)
from logger.judge.windows import (
    FAST_AVERAGING_S,
    REACH_S,
    Curve,
    Stretch,
    overshoot,
    ramp_and_return,
)
from logger.phases.series import Series
from logger.plan.decidable import COVERAGE_K

MISSING_SHARE = 0.2
MISSING_MIN_S = 1.0
DWELL = Source(mark=Mark.GIVEN, text="remark only, shorter than the dwell that the procedure file declares")


def bead_up_pressure(curve: Curve) -> Outcome:
    band = curve.step(Phase.BEAD_UP).gauge_pressure_bar
    return _judged(curve, "bead_up.pressure", band, curve.bead_up) if band.is_given else NOTHING


def heat_soak_pressure(curve: Curve) -> Outcome:
    """Against the upper limit alone: a low reading neither proves contact nor the want of it."""
    band = curve.step(Phase.HEAT_SOAK).gauge_pressure_bar
    if band.max is None:
        return NOTHING
    return _judged(curve, "heat_soak.pressure", replace(band, min=None), curve.soak)


def build_up_overshoot(case: Case) -> Outcome:
    """Pressure that shot above the joining band and came back into it: the weld is molten then.

    Pressure that stays above is the cooling's own deviation. Where the procedure limits the build-up itself,
    a peak that keeps the limit is weighed against it too.
    """
    start, entered = case.span(Phase.PRESSURE_BUILD_UP).start, case.span(Phase.COOLING).start
    band, joining = (
        case.step(phase).gauge_pressure_bar for phase in (Phase.PRESSURE_BUILD_UP, Phase.COOLING)
    )
    if start.at_s is None or entered.at_s is None or joining.max is None:
        return NOTHING
    severity = Severity.FAULT if band.max is not None else Severity.REMARK
    limit_bar, source = (band.max, band.source) if band.max is not None else (joining.max, PRACTICE)
    limit = at_most("pressure_build_up.pressure.high", limit_bar, "bar", source, severity)
    peak = overshoot(case, start.at_s, entered.at_s, limit_bar)
    if peak is not None:
        return _worst(case, limit, [peak])
    smooth = smoothed(ramp_and_return(case, start.at_s, entered.at_s), FAST_AVERAGING_S)
    if severity is Severity.REMARK or not len(smooth.series) or not case.declares(Quantity.PRESSURE):
        return NOTHING
    peak_bar = max(smooth.series.values) - NOISE_SIGMAS * smooth.noise
    held = case.weighed(Quantity.PRESSURE, peak_bar, smooth.noise)
    return Outcome(weighed=limit.check(held, start.at_s, entered.at_s).weighed)


def cooling_pressure(curve: Curve) -> Outcome:
    """Each step of cooling for itself, and the let-downs between them."""
    if curve.span(Phase.COOLING).start.at_s is None:
        return Outcome(undecided=(doubt("cooling.pressure.not_observed"),))
    outcome = NOTHING
    for stretch in curve.cooling:
        band = stretch.step.gauge_pressure_bar
        outcome += _judged(curve, "cooling.pressure", band, stretch) if band.is_given else NOTHING
    for before, stretch in pairwise(curve.cooling):
        outcome += _let_down_to(curve, before, stretch)
    return outcome


def _let_down_to(case: Case, before: Stretch, stretch: Stretch) -> Outcome:
    """On its way to a lower stage the pressure must not pass below drag: the faces would come free."""
    drag_bar, band = case.plan.drag_pressure_bar, stretch.step.gauge_pressure_bar
    if drag_bar is None or not band.is_given:
        return NOTHING
    limit = at_least("cooling.pressure.low", drag_bar, "bar", band.source)
    way = smoothed(
        case.pressure.window(before.to_s, min(stretch.from_s, before.to_s + REACH_S)), FAST_AVERAGING_S
    )
    return _worst(case, limit, beyond(way, low=drag_bar))


def missing_pressure(case: Case) -> Outcome:
    """A phase whose pressure was not observed for a good part of it cannot be called good."""
    undecided = []
    for span in case.detection.spans:
        if span.start.at_s is None or span.end.at_s is None:
            continue
        lost_s = sum(
            max(0.0, min(b, span.end.at_s) - max(a, span.start.at_s))
            for a, b in case.detection.trace.pressure.gaps
        )
        if lost_s > max(MISSING_MIN_S, MISSING_SHARE * (span.end.at_s - span.start.at_s)):
            undecided.append(doubt(f"{span.phase}.pressure.not_observed"))
    return Outcome(undecided=tuple(undecided))


def _judged(case: Case, code: str, band: Band, stretch: Stretch | None) -> Outcome:
    if stretch is None or not len(stretch.pressure):
        return Outcome(undecided=(doubt(f"{code}.not_observed"),))
    outcome = NOTHING
    for limit in edges_of(band, code, "bar"):
        outcome += _held(case, limit, stretch)
    return outcome


def _held(case: Case, limit: Limit, stretch: Stretch) -> Outcome:
    """Excursions first; without one that lasts, the level held for seconds is weighed against the limit."""
    high, low = (limit.value, None) if limit.is_max else (None, limit.value)
    found = beyond(stretch.smooth, low=low, high=high)
    in_doubt = stretch.step.phase is Phase.COOLING and can_be_shut_off(case)
    if in_doubt and any(reads_nothing(case, one.extreme) for one in found):
        return Outcome(undecided=(doubt("cooling.pressure.not_connected"),))
    short = [one for one in found if _is_within_dwell(case, stretch.step, one)]
    lasting = [one for one in found if one not in short]
    remark = replace(limit, severity=Severity.REMARK, source=DWELL)
    outcome = _worst(case, remark, short) + _worst(case, limit, lasting)
    return outcome if lasting else outcome + _level(case, limit, stretch, short)


def _level(case: Case, limit: Limit, stretch: Stretch, short: Sequence[Excursion]) -> Outcome:
    """Levels are known better than single medians: a small lasting deviation shows in them alone.

    It is the worst of many levels that is held: noise counts for more than in one taken at random.
    """
    levels = stretch.levels
    if short:
        rest = _without(stretch.settled, short)
        levels = levels_of(rest, smoothed(rest))
    if not len(levels.series):
        return NOTHING
    bar, at_s = levels.worst(is_max=limit.is_max)
    out_bar = bar - limit.value if limit.is_max else limit.value - bar
    if out_bar <= LEVEL_SIGMAS * levels.noise and not case.declares(Quantity.PRESSURE):
        return NOTHING
    held = case.weighed(Quantity.PRESSURE, bar, levels.noise * LEVEL_SIGMAS / COVERAGE_K)
    return limit.check(held, at_s, at_s + levels.span_s)


def _without(series: Series, excursions: Sequence[Excursion]) -> Series:
    """The readings outside these stretches, and outside what averaging smears of them."""
    if not excursions:
        return series
    kept = [
        (t_s, bar)
        for t_s, bar in zip(series.t_s, series.values, strict=True)
        if not any(one.start_s - AVERAGING_S < t_s < one.end_s + AVERAGING_S for one in excursions)
    ]
    return Series(tuple(t_s for t_s, _ in kept), tuple(bar for _, bar in kept))


def _is_within_dwell(case: Case, step: PlanStep, excursion: Excursion) -> bool:
    """Declared dwell is none from the faces' first contact through a declared early part of cooling."""
    if excursion.duration_s > step.dwell_s or step.dwell_s == 0.0:
        return False
    if step.phase is not Phase.COOLING:
        return step.phase in (Phase.BEAD_UP, Phase.HEAT_SOAK)
    contact_s = case.span(Phase.PRESSURE_BUILD_UP).start.at_s
    return contact_s is not None and excursion.start_s - contact_s >= step.dwell_after_s


def _worst(case: Case, limit: Limit, excursions: Sequence[Excursion]) -> Outcome:
    """One finding per limit: the excursion furthest out, over the whole time from the first to the last."""
    if not excursions:
        return NOTHING
    pick = max if limit.is_max else min
    worst = pick(excursions, key=lambda excursion: excursion.extreme)
    measured = case.weighed(Quantity.PRESSURE, worst.extreme)
    return limit.check(measured, excursions[0].start_s, excursions[-1].end_s)
