"""Gauge pressure against the plan, phase by phase, on the noise-free curve."""

from logger.domain.band import Band
from logger.domain.channel import Quantity
from logger.domain.judgement import Severity
from logger.domain.phase import Phase
from logger.judge.case import NOTHING, PRACTICE, Case, Limit, Outcome, at_most, edges_of
from logger.judge.decision import Measured
from logger.judge.excursions import AVERAGING_S, Excursion, beyond, smoothed
from logger.phases.series import Series

REACH_S = 15.0
"""Within this time after the faces meet, or half the phase, the pressure has settled where it will settle."""
LET_DOWN_S = 5.0
"""A let-down takes this long at most before what is left counts as soak pressure."""
EDGE_S = 0.3
SETTLE_S = 5.0
"""An overshoot begins no later than this after the joining band was entered."""
SETTLE_SHARE = 0.4
"""On a slow ramp: the share of its time that it takes from the lower edge of the band past the upper."""
RETURN_S = 10.0
"""Pressure still above the band after this long is no overshoot but too high."""
FAST_AVERAGING_S = 0.4
MISSING_SHARE = 0.2
MISSING_MIN_S = 1.0


def bead_up_pressure(case: Case) -> Outcome:
    """From the pressure's arrival in its band to the let-down; never arriving is low as a whole."""
    span, band = case.span(Phase.BEAD_UP), case.step(Phase.BEAD_UP).gauge_pressure_bar
    start_s, end_s = span.start.at_s, span.end.at_s
    if end_s is None and span.end.reason == "no_let_down":
        end_s = case.span(Phase.CHANGEOVER).start.at_s
    if not band.is_given or start_s is None or end_s is None:
        return NOTHING if not band.is_given else Outcome(undecided=("bead_up.pressure.not_observed",))
    arrived_s = _arrival(case.pressure.window(start_s, end_s), band, start_s, end_s)
    return _in_band(case, "bead_up.pressure", band, (arrived_s, end_s - EDGE_S))


def heat_soak_pressure(case: Case) -> Outcome:
    """From the end of the let-down to the changeover, against the upper limit on the gauge."""
    span, band = case.span(Phase.HEAT_SOAK), case.step(Phase.HEAT_SOAK).gauge_pressure_bar
    if band.max is None:
        return NOTHING
    limit = at_most("heat_soak.pressure.high", band.max, "bar", band.source)
    end_s = span.end.at_s
    if span.start.reason == "no_let_down":
        return _never_let_down(case, limit)
    if span.start.at_s is None:
        return Outcome(undecided=("heat_soak.pressure.not_observed",))
    if end_s is None:
        touch_s = case.span(Phase.PRESSURE_BUILD_UP).start.at_s
        slack_s = 2.0 * (case.step(Phase.CHANGEOVER).duration_s.max or 10.0)
        cycle = case.detection.cycle
        closed_s = touch_s or (cycle.cooling.start_s if cycle and cycle.cooling else None)
        end_s = case.detection.trace.end_s if closed_s is None else closed_s - slack_s
        end_s = min([end_s, *(a for a, _ in case.detection.trace.pressure.gaps if a > span.start.at_s)])
    low = smoothed(case.pressure.window(span.start.at_s, end_s - EDGE_S))
    below = [t for t, bar in zip(low.series.t_s, low.series.values, strict=True) if bar <= band.max]
    let_down_s = span.start.at_s + LET_DOWN_S
    from_s = min(below[0], let_down_s) if below else let_down_s
    return _above(case, limit, (from_s, end_s - EDGE_S))


def build_up_overshoot(case: Case) -> Outcome:
    """Pressure that shot above the joining band and came back into it: the weld is molten then.

    Pressure that stays above is the cooling's own deviation.
    """
    start = case.span(Phase.PRESSURE_BUILD_UP).start
    entered = case.span(Phase.COOLING).start
    step, joining = case.step(Phase.PRESSURE_BUILD_UP), case.step(Phase.COOLING).gauge_pressure_bar
    if start.at_s is None or entered.at_s is None or joining.max is None:
        return NOTHING
    band = step.gauge_pressure_bar
    severity = Severity.FAULT if band.max is not None else Severity.REMARK
    limit_bar, source = (band.max, band.source) if band.max is not None else (joining.max, PRACTICE)
    limit = at_most("pressure_build_up.pressure.high", limit_bar, "bar", source, severity)
    peak = _overshoot(case, start.at_s, entered.at_s, limit_bar)
    return NOTHING if peak is None else _worst(case, limit, [peak])


def _overshoot(case: Case, start_s: float, entered_s: float, limit_bar: float) -> Excursion | None:
    """The stretch above the limit that begins before the pressure settled and ends soon; peaks as one."""
    ramp_s = entered_s - start_s
    until_s = entered_s + max(RETURN_S, ramp_s)
    smooth = smoothed(case.pressure.window(start_s, until_s), FAST_AVERAGING_S)
    begins_by_s = entered_s + max(SETTLE_S, SETTLE_SHARE * ramp_s)
    peaks = [peak for peak in beyond(smooth, high=limit_bar) if peak.start_s <= begins_by_s]
    if not peaks or peaks[-1].end_s >= smooth.series.t_s[-1]:
        return None
    return Excursion(peaks[0].start_s, peaks[-1].end_s, max(peak.extreme for peak in peaks))


def cooling_pressure(case: Case) -> Outcome:
    """From arrival in the band until the cooling time is up or the pressure was released."""
    span = case.span(Phase.COOLING)
    steps = case.plan.steps_of(Phase.COOLING)
    if span.start.at_s is None:
        return Outcome(undecided=("cooling.pressure.not_observed",))
    end_s = span.end.at_s if span.end.at_s is not None else case.detection.trace.end_s
    begin_s = span.start.at_s
    outcome = NOTHING
    for index, step in enumerate(steps):
        needed_s = step.duration_s.min if step.duration_s.min is not None else step.duration_s.target
        until_s = end_s if needed_s is None else min(end_s, begin_s + needed_s)
        band = step.gauge_pressure_bar
        entering_s = max(_overshoot_over_s(case, begin_s), _shown_after_s(case, band, begin_s))
        settled_s = _lowered_s(case, band, begin_s) if index else entering_s
        if band.is_given:
            outcome += _in_band(case, "cooling.pressure", band, (begin_s + settled_s, until_s - EDGE_S))
        begin_s = until_s
    return outcome


def _lowered_s(case: Case, band: Band, begin_s: float) -> float:
    """How long the pressure took to come down to a later stage: the one before may last past its minimum."""
    smooth = smoothed(case.pressure.window(begin_s, begin_s + REACH_S), FAST_AVERAGING_S).series
    for t_s, bar in zip(smooth.t_s, smooth.values, strict=True):
        if band.max is None or bar <= band.max:
            return min(t_s - begin_s + SETTLE_S, REACH_S)
    return REACH_S


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
            undecided.append(f"{span.phase}.pressure.not_observed")
    return Outcome(undecided=tuple(undecided))


def _shown_after_s(case: Case, band: Band, begin_s: float) -> float:
    """How long after it entered the band the lagging gauge shows it there; 0 where it never does."""
    if band.min is None:
        return 0.0
    smooth = smoothed(case.pressure.window(begin_s, begin_s + SETTLE_S), FAST_AVERAGING_S).series
    shown = (t_s for t_s, bar in zip(smooth.t_s, smooth.values, strict=True) if bar >= band.min)
    return next(shown, begin_s) - begin_s


def _overshoot_over_s(case: Case, begin_s: float) -> float:
    """Until when an overshoot is counted with the build-up and not a second time here."""
    band, start = case.step(Phase.COOLING).gauge_pressure_bar, case.span(Phase.PRESSURE_BUILD_UP).start
    if band.max is None or start.at_s is None:
        return 0.0
    peak = _overshoot(case, start.at_s, begin_s, band.max)
    return 0.0 if peak is None else peak.end_s - begin_s + AVERAGING_S / 2


def _arrival(pressure: Series, band: Band, start_s: float, end_s: float) -> float:
    """When the pressure reached its band, or when it must have settled without reaching it."""
    reach_s = min(REACH_S, (end_s - start_s) / 2)
    if band.min is not None:
        smooth = smoothed(pressure, FAST_AVERAGING_S).series
        for t_s, bar in zip(smooth.t_s, smooth.values, strict=True):
            if bar >= band.min:
                return min(t_s, start_s + reach_s)
    return start_s + reach_s


def _never_let_down(case: Case, limit: Limit) -> Outcome:
    start_s, end_s = case.span(Phase.BEAD_UP).start.at_s, case.span(Phase.CHANGEOVER).start.at_s
    if start_s is None or end_s is None:
        return Outcome(undecided=("heat_soak.pressure.not_observed",))
    return _above(case, limit, ((start_s + end_s) / 2, end_s - EDGE_S))


def _above(case: Case, limit: Limit, window: tuple[float, float]) -> Outcome:
    smooth = smoothed(case.pressure.window(*window))
    found = beyond(smooth, high=limit.value)
    return _worst(case, limit, found) if found else _near(case, limit, smooth.series)


def _in_band(case: Case, code: str, band: Band, window: tuple[float, float]) -> Outcome:
    part = case.pressure.window(*window)
    if not len(part):
        return Outcome(undecided=(f"{code}.not_observed",))
    smooth = smoothed(part)
    outcome = NOTHING
    for limit in edges_of(band, code, "bar"):
        low = None if limit.is_max else limit.value
        high = limit.value if limit.is_max else None
        found = beyond(smooth, low=low, high=high)
        outcome += _worst(case, limit, found) if found else _near(case, limit, smooth.series)
    return outcome


def _near(case: Case, limit: Limit, smooth: Series) -> Outcome:
    """With a declared uncertainty, a mean inside the limit but within its guard band cannot be decided."""
    u = case.u_of(Quantity.PRESSURE)
    if u == 0.0 or not len(smooth):
        return NOTHING
    mean = Measured(sum(smooth.values) / len(smooth), u)
    answer = limit.check(mean, smooth.t_s[0], smooth.t_s[-1])
    return Outcome(undecided=answer.undecided)


def _worst(case: Case, limit: Limit, excursions: tuple[Excursion, ...] | list[Excursion]) -> Outcome:
    """One finding per limit: the excursion furthest out, over the whole time from the first to the last."""
    if not excursions:
        return NOTHING
    pick = max if limit.is_max else min
    worst = pick(excursions, key=lambda excursion: excursion.extreme)
    measured = Measured(worst.extreme, case.u_of(Quantity.PRESSURE))
    return limit.check(measured, excursions[0].start_s, excursions[-1].end_s)
