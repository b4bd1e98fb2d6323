"""The stretches of the curve over which the pressure of each step is judged."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from logger.domain.band import Band
from logger.domain.joint_plan import PlanStep
from logger.domain.phase import Phase
from logger.domain.rig import GaugeSide
from logger.judge.case import Case
from logger.judge.excursions import (
    AVERAGING_S,
    Excursion,
    Levels,
    Smooth,
    beyond,
    levels_of,
    smoothed,
)
from logger.phases.series import Series

REACH_S = 15.0
"""Within this time after the faces meet, or half the phase, the pressure has settled where it will settle."""
LET_DOWN_S = 5.0
"""A let-down takes this long at most before what is left counts as soak pressure."""
SURELY_BEAD_UP = 0.15
"""Of a heating without a let-down: so much of it is the bead-up's for sure. A choice."""
EDGE_S = 0.3
OPENING_S = 1.5
"""How long an opening stroke may show on the gauge before the place that was taken for its start."""
SETTLE_S = 5.0
OVERSHOOT_BY_S = 6.0
"""An overshoot begins no later than this after the joining band was entered."""
SETTLE_SHARE = 0.4
"""On a slow ramp: the share of its time that it takes from the lower edge of the band past the upper."""
RETURN_S = 10.0
"""Pressure above the band for longer than this is no overshoot but too high."""
FAST_AVERAGING_S = 0.4


@dataclass(frozen=True)
class Stretch:
    """From when to when one step is judged; `settling_s` of it may still be on the way to its level.

    `noise` is that of the whole trace: a stretch of few readings does not tell its own.
    """

    step: PlanStep
    from_s: float
    to_s: float
    pressure: Series
    noise: float
    settling_s: float = 0.0

    @cached_property
    def smooth(self) -> Smooth:
        return smoothed(self.pressure, noise=self.noise)

    @cached_property
    def settled(self) -> Series:
        """The part in which the pressure stands at its level."""
        settled_s = min(self.settling_s, (self.to_s - self.from_s) / 4)
        return self.pressure.window(self.from_s + settled_s, self.to_s)

    @cached_property
    def levels(self) -> Levels:
        return levels_of(self.settled, smoothed(self.settled))


class Curve(Case):
    """A case with its stretches, each worked out once; None where a boundary of it was not seen."""

    @cached_property
    def bead_up(self) -> Stretch | None:
        return _bead_up(self)

    @cached_property
    def soak(self) -> Stretch | None:
        return _soak(self)

    @cached_property
    def cooling(self) -> tuple[Stretch, ...]:
        return tuple(_cooling(self))


def stretch_of(case: Case, step: PlanStep, from_s: float, to_s: float, settling_s: float = 0.0) -> Stretch:
    """A stretch with its readings, of which there may be none."""
    return Stretch(
        step, from_s, to_s, case.pressure.window(from_s, to_s), case.detection.view.noise, settling_s
    )


def _bead_up(case: Case) -> Stretch | None:
    """From the pressure's arrival in its band to the let-down; never arriving is low as a whole."""
    span, step = case.span(Phase.BEAD_UP), case.step(Phase.BEAD_UP)
    start_s, end_s = span.start.at_s, span.end.at_s
    if start_s is not None and end_s is None and span.end.reason == "no_let_down":
        out_s = case.span(Phase.CHANGEOVER).start.at_s
        end_s = None if out_s is None else start_s + SURELY_BEAD_UP * (out_s - start_s)
    if start_s is None or end_s is None:
        return None
    pressure = case.pressure.window(start_s, end_s)
    arrived_s = _arrival(pressure, step.gauge_pressure_bar, start_s, end_s)
    return stretch_of(case, step, arrived_s, end_s - EDGE_S)


def _soak(case: Case) -> Stretch | None:
    """From the end of the let-down to the changeover; of a soak never let down the second half."""
    span, step = case.span(Phase.HEAT_SOAK), case.step(Phase.HEAT_SOAK)
    if span.start.reason == "no_let_down":
        start_s, end_s = case.span(Phase.BEAD_UP).start.at_s, case.span(Phase.CHANGEOVER).start.at_s
        return (
            None
            if start_s is None or end_s is None
            else stretch_of(case, step, (start_s + end_s) / 2, end_s - EDGE_S)
        )
    if span.start.at_s is None:
        return None
    end_s = span.end.at_s if span.end.at_s is not None else _soak_seen_until(case, span.start.at_s)
    end_s -= EDGE_S if _opening_shows(case) else OPENING_S
    limit_bar, let_down_s = step.gauge_pressure_bar.max, span.start.at_s + LET_DOWN_S
    if limit_bar is None:
        return stretch_of(case, step, let_down_s, end_s)
    low = smoothed(case.pressure.window(span.start.at_s, end_s)).series
    below = (t_s for t_s, bar in zip(low.t_s, low.values, strict=True) if bar <= limit_bar)
    return stretch_of(case, step, min(next(below, let_down_s), let_down_s), end_s, LET_DOWN_S)


def _opening_shows(case: Case) -> bool:
    """Whether an opening stroke cannot pass for soak: by the carriage, or on a gauge that misses it."""
    return len(case.detection.trace.carriage) > 0 or case.detection.view.gauge_side is GaugeSide.CLOSING


def _soak_seen_until(case: Case, start_s: float) -> float:
    """Until when it was surely soak, where the changeover does not show."""
    touch_s = case.span(Phase.PRESSURE_BUILD_UP).start.at_s
    slack_s = 2.0 * (case.step(Phase.CHANGEOVER).duration_s.max or 10.0)
    cycle = case.detection.cycle
    closed_s = touch_s or (cycle.cooling.start_s if cycle and cycle.cooling else None)
    end_s = case.detection.trace.end_s if closed_s is None else closed_s - slack_s
    seen_until_s = min([end_s, *(a for a, _ in case.detection.trace.pressure.gaps if a > start_s)])
    return seen_until_s - slack_s if cycle and cycle.in_gap else seen_until_s


def _cooling(case: Case) -> Iterator[Stretch]:
    """Each step from arrival at its level until its time is up or the pressure was released."""
    span = case.span(Phase.COOLING)
    if span.start.at_s is None:
        return
    end_s = span.end.at_s if span.end.at_s is not None else case.detection.trace.end_s
    begin_s = span.start.at_s
    for index, step in enumerate(case.plan.steps_of(Phase.COOLING)):
        until_s = min(end_s, begin_s + needed_s(step)) if needed_s(step) else end_s
        band = step.gauge_pressure_bar
        if index:
            settled_s = _lowered_s(case, band, begin_s)
        else:
            settled_s = max(_overshoot_over_s(case, begin_s), _shown_after_s(case, band, begin_s))
        yield stretch_of(case, step, begin_s + settled_s, until_s - EDGE_S, SETTLE_S)
        begin_s = until_s


def needed_s(step: PlanStep) -> float:
    """How long a step of cooling has to last; 0 where the plan does not say."""
    return step.duration_s.min if step.duration_s.min is not None else step.duration_s.target or 0.0


def overshoot(case: Case, start_s: float, entered_s: float, limit_bar: float) -> Excursion | None:
    """The stretch above the limit that begins before the pressure settled and ends soon; peaks as one."""
    smooth = smoothed(ramp_and_return(case, start_s, entered_s), FAST_AVERAGING_S)
    begins_by_s = _begins_by_s(start_s, entered_s)
    peaks = [peak for peak in beyond(smooth, high=limit_bar) if peak.start_s <= begins_by_s]
    if not peaks or peaks[-1].end_s >= smooth.series.t_s[-1]:
        return None
    return Excursion(peaks[0].start_s, peaks[-1].end_s, max(peak.extreme for peak in peaks))


def ramp_and_return(case: Case, start_s: float, entered_s: float) -> Series:
    """The build-up and the time in which an overshoot has to be over."""
    return case.pressure.window(start_s, _begins_by_s(start_s, entered_s) + RETURN_S)


def _begins_by_s(start_s: float, entered_s: float) -> float:
    return entered_s + max(OVERSHOOT_BY_S, SETTLE_SHARE * (entered_s - start_s))


def _lowered_s(case: Case, band: Band, begin_s: float) -> float:
    """How long the pressure took to come down to a later stage: the one before may last past its minimum."""
    smooth = smoothed(case.pressure.window(begin_s, begin_s + REACH_S), FAST_AVERAGING_S).series
    for t_s, bar in zip(smooth.t_s, smooth.values, strict=True):
        if band.max is None or bar <= band.max:
            return min(t_s - begin_s + SETTLE_S, REACH_S)
    return REACH_S


def _shown_after_s(case: Case, band: Band, begin_s: float) -> float:
    """How long after it entered the band the lagging gauge shows it there; 0 where it never does."""
    if band.min is None:
        return 0.0
    smooth = smoothed(case.pressure.window(begin_s, begin_s + SETTLE_S), FAST_AVERAGING_S).series
    shown = (t_s for t_s, bar in zip(smooth.t_s, smooth.values, strict=True) if bar >= band.min)
    # Where readings were lost before it did, the gap hides it.
    gaps = (end_s for a_s, end_s in case.pressure.gaps if begin_s < a_s < begin_s + SETTLE_S)
    return next(shown, next(gaps, begin_s)) - begin_s


def _overshoot_over_s(case: Case, begin_s: float) -> float:
    """Until when an overshoot is counted with the build-up and not a second time here."""
    band, start = case.step(Phase.COOLING).gauge_pressure_bar, case.span(Phase.PRESSURE_BUILD_UP).start
    if band.max is None or start.at_s is None:
        return 0.0
    peak = overshoot(case, start.at_s, begin_s, band.max)
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
