"""Which high runs are a bead-up and its cooling: everything else is preparation.

A joint is a bead-up, then a low stretch (soak and changeover), then a cooling. Drag tests, facing and
alignment checks do not fit that shape, and a bead-up that was broken off has no cooling. All pairs of runs
are scored and the best chain of pairs that do not overlap is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

from logger.phases.levels import Hints, Levels
from logger.phases.runs import Run, running_median
from logger.phases.series import Trace

BEAD_UP_MIN_S = 2.0
COOLING_MIN_S = 5.0
STROKE_S = 3.0
"""A pulse as short as this is the opening stroke at its stop, and what follows it is the joint."""
BEAD_UP_TOLD_S = 6.0
PRESSED_SHARE = 0.75
"""A run at less than this share of the planned pressure is a soak that was not let down, no cooling."""
LEAST_PLANNED = 2.0
HIDING_S = 5.0
"""Right pairs score 3 at least on the tuning joints; a gap this long may hide a better one: choices."""
LAST, LAST_UNKNOWN = 1.5, 3.5
"""What speaks for the last run that is long enough, with and without a plan, when less else tells: choices,
in the units of the score."""
LOW_MIN_S = 5.0
LOST_PRESSURE_S = 30.0
"""Pressure lost in cooling and back within this time is the same cooling, unless the carriage opened."""
LOST_PRESSURE_UNKNOWN_S = 10.0
NOTHING_SHARE = 0.1
RELEASED_OVER_S = 2.0
"""Pressure counts as released when its median over this time says so: no noise does."""
NOT_RELEASED_S = 5.0
"""Pressure that takes longer than this to leave the drag level was not released."""
OPENED_MM = 3.0
OPEN_SHARE = 0.2
DIP_DEGC = 1.0
SHORT_UNKNOWN = 1.7
LEAST_UNKNOWN = 1.6
"""Without a plan nobody knows how long a joint cools: so many standard deviations speak against it at most,
and a pair with nothing to say for it is a joint where no other is."""


@dataclass(frozen=True)
class Cycle:
    """One heating cycle: `cooling` is None where the joint was not closed in the trace, or not seen."""

    bead_up: Run
    cooling: Run | None
    score: float = 0.0
    in_gap: bool = False


def cycles_of(runs: Sequence[Run], trace: Trace, levels: Levels, hints: Hints) -> tuple[Cycle, ...]:
    """Return the heating cycles in order; the last may be incomplete."""
    released = _Released(trace, _release_bar(levels, hints))
    complete = _best_chain(runs, released, hints)
    if hints.cooling_s is not None:
        complete = tuple(_unless_hidden(cycle, runs, trace) for cycle in complete)
    else:
        complete = _best_chain(runs, released, hints, LEAST_UNKNOWN) or complete[-1:]
    if hints.drag_bar is None:
        # Whatever was held above next to nothing until then was a second stage, or pressure that was lost.
        to_nothing = _Released(trace, levels.base_bar + NOTHING_SHARE * levels.step_bar)
        complete = tuple(replace(c, cooling=c.cooling and to_nothing.to_release(c.cooling)) for c in complete)
    after_s = complete[-1].cooling.end_s if complete and complete[-1].cooling else float("-inf")
    rest = [run for run in runs if run.start_s > after_s]
    unfinished = _unfinished(rest, trace, hints) if not complete else None
    return (*complete, unfinished) if unfinished else complete


def _unless_hidden(cycle: Cycle, runs: Sequence[Run], trace: Trace) -> Cycle:
    """Where little speaks for a pair and a long gap follows, its second run is the bead-up."""
    if cycle.cooling is None or cycle.score >= LEAST_PLANNED:
        return cycle
    begun_s = cycle.cooling.start_s
    if not any(a_s > begun_s and b_s - a_s > HIDING_S for a_s, b_s in trace.pressure.gaps):
        return cycle
    return Cycle(next(run for run in runs if run.start_s == begun_s), None, cycle.score, in_gap=True)


class _Released:
    """The trace, and until when a cooling went on whose pressure fell but was not released."""

    def __init__(self, trace: Trace, release_bar: float | None) -> None:
        self.trace = trace
        self._release_bar = release_bar
        self._ends: dict[Run, Run] = {}

    def to_release(self, run: Run) -> Run:
        """Lost pressure, or a planned second stage, belongs to the same cooling."""
        if run.open_end or self._release_bar is None:
            return run
        if run not in self._ends:
            self._ends[run] = self._extended(run, self._release_bar)
        return self._ends[run]

    def _extended(self, run: Run, release_bar: float) -> Run:
        rest = self.trace.pressure.window(run.end_s, self.trace.end_s)
        width = int(RELEASED_OVER_S / rest.interval_s) | 1 if rest.interval_s > 0 else 1
        smooth = running_median(rest.values, width)
        below = (t_s for t_s, bar in zip(rest.t_s, smooth, strict=True) if bar < release_bar)
        released_s = next(below, None)
        end_s = self.trace.end_s if released_s is None else released_s
        if end_s - run.end_s < NOT_RELEASED_S or _opened(self.trace, run.end_s, end_s):
            return run
        return Run(run.start_s, end_s, released_s is None)


def _release_bar(levels: Levels, hints: Hints) -> float | None:
    """Gauge pressure that only a release goes under; None where the trace cannot tell."""
    if levels.base_bar > 0.3 * levels.step_bar:
        return 0.6 * levels.base_bar
    if hints.lowest_cooling_bar is not None and hints.lowest_cooling_bar < levels.leave_bar:
        return levels.base_bar + 0.5 * (hints.lowest_cooling_bar - levels.base_bar)
    return levels.base_bar + NOTHING_SHARE * levels.step_bar if hints.drag_bar is not None else None


def _best_chain(
    runs: Sequence[Run], released: _Released, hints: Hints, least: float = 0.0
) -> tuple[Cycle, ...]:
    best: list[tuple[float, tuple[Cycle, ...]]] = [(0.0, ())]
    pairs = [
        (j, last, cycle)
        for i in range(len(runs))
        for j in range(i + 1, len(runs))
        for last, cycle in [_cycle(runs, (i, j), released, hints)]
        if cycle.score > least
    ]
    for end in range(len(runs)):
        options = [best[-1]]
        for _, last, cycle in pairs:
            if last == end:
                before = best[runs.index(cycle.bead_up)]
                options.append((before[0] + cycle.score, (*before[1], cycle)))
        best.append(max(options, key=lambda option: option[0]))
    return best[-1][1]


def _cycle(
    runs: Sequence[Run], pair: tuple[int, int], released: _Released, hints: Hints
) -> tuple[int, Cycle]:
    """Score a pair of runs as bead-up and cooling; also say which run the cooling ends with."""
    i, j = pair
    trace = released.trace
    bead_up, cooling = runs[i], runs[j]
    last = j
    while last + 1 < len(runs) and _same_cooling(cooling, runs[last + 1], trace, hints):
        last += 1
        cooling = Run(cooling.start_s, runs[last].end_s, runs[last].open_end)
    low_s = runs[j].start_s - bead_up.end_s
    is_stroke = runs[j].duration_s < STROKE_S and last > j
    if is_stroke or bead_up.duration_s < BEAD_UP_MIN_S or cooling.duration_s < COOLING_MIN_S:
        return last, Cycle(bead_up, cooling, 0.0)
    pressed, cooling = cooling, released.to_release(cooling)
    while last + 1 < len(runs) and runs[last + 1].start_s < cooling.end_s:
        last += 1
    # Pressure that was never let down: soak and bead-up are one run.
    held = hints.soak_s is not None and bead_up.duration_s > 0.5 * hints.soak_s
    as_one = _shape_score(bead_up.duration_s, cooling, hints) - 0.5 if held else float("-inf")
    apart = _shape_score(low_s, cooling, hints) if low_s >= LOW_MIN_S else as_one
    score = 3.0 + max(apart, as_one) + _evidence(bead_up, runs[j], trace, soaked_apart=apart >= as_one)
    score += _level_score(pressed, trace, hints) + _level_score(_first_of(bead_up), trace, hints)
    score -= _intruders(runs[i + 1 : j], trace, hints)
    if last > j and (_pressed_share(runs[j], trace, hints) or 1.0) < PRESSED_SHARE:
        score -= 2.0
    # What was pressed last is a cooling, rather than the plate's being put to the ends.
    is_last = all(run.duration_s < COOLING_MIN_S for run in runs[last + 1 :])
    score += (LAST if hints.cooling_s is not None else LAST_UNKNOWN) * is_last
    if hints.cooling_s is None:
        score -= _contact_dip(runs[j], trace)
    return last, Cycle(bead_up, cooling, score)


def _same_cooling(cooling: Run, following: Run, trace: Trace, hints: Hints) -> bool:
    low_s = following.start_s - cooling.end_s
    if hints.cooling_s is None:
        return low_s <= LOST_PRESSURE_UNKNOWN_S and not _opened(trace, cooling.end_s, following.start_s)
    done = cooling.duration_s >= 0.98 * hints.cooling_s
    return low_s <= LOST_PRESSURE_S and not done and not _opened(trace, cooling.end_s, following.start_s)


def _shape_score(low_s: float, cooling: Run, hints: Hints) -> float:
    """Penalise a low stretch and a cooling whose lengths do not suit each other or the plan."""
    if hints.soak_s is not None and hints.cooling_s is not None:
        soak = log(low_s / (hints.soak_s + 6.0)) / 0.5
        short = min(0.0, log(cooling.duration_s / hints.cooling_s)) / 0.8
    else:
        soak = 0.0
        short = max(min(0.0, log(cooling.duration_s / (2.5 * low_s))) / 0.6, -SHORT_UNKNOWN)
    if cooling.open_end:
        short *= 0.5
    return -(soak * soak + short * short) / 2


def _pressed_share(run: Run, trace: Trace, hints: Hints) -> float | None:
    """Pressure of a run above drag as a share of what was planned; None without a plan."""
    mean_bar = trace.pressure.mean_between(run.start_s, run.end_s)
    if mean_bar is None or hints.joining_bar is None:
        return None
    drag_bar = hints.drag_bar or 0.0
    return max((mean_bar - drag_bar) / (hints.joining_bar - drag_bar), 0.05)


def _level_score(run: Run, trace: Trace, hints: Hints) -> float:
    """Penalise a run far from its planned pressure: it may be a soak that was not let down."""
    share = _pressed_share(run, trace, hints)
    return 0.0 if share is None else -((log(share) / 0.5) ** 2) / 2


def _first_of(run: Run) -> Run:
    """What of a bead-up tells its pressure, should the soak after it have stayed high."""
    return Run(min(run.start_s + 1.0, run.end_s), min(run.start_s + BEAD_UP_TOLD_S, run.end_s))


def _intruders(runs: Sequence[Run], trace: Trace, hints: Hints) -> float:
    """Penalty for the high runs between bead-up and cooling; a soak that stayed under pressure is one."""
    pressed = short = stayed = 0.0
    for run in runs:
        share = _pressed_share(_first_of(run), trace, hints)
        if run.duration_s < STROKE_S:
            short += 0.5
        elif share is None or share > PRESSED_SHARE:
            pressed += 2.0
        else:
            stayed = 1.0
    return pressed + short + stayed


def _evidence(bead_up: Run, cooling: Run, trace: Trace, *, soaked_apart: bool) -> float:
    """Weigh what the other channels say about plate and carriage."""
    score = 0.0
    plate_then = trace.plate_in.mean_between(bead_up.start_s, bead_up.end_s)
    plate_later = trace.plate_in.mean_between(cooling.start_s, cooling.end_s)
    if plate_then is not None and plate_later is not None:
        score += 3.0 if plate_then > 0.5 and plate_later < 0.5 else -5.0
    early_s = bead_up.end_s + 0.5 * (cooling.start_s - bead_up.end_s)
    if len(trace.carriage) and soaked_apart:
        score += -3.0 if _stood_open(trace, bead_up.end_s, early_s) else 1.0
    return score + _contact_dip(bead_up, trace)


def _contact_dip(bead_up: Run, trace: Trace) -> bool:
    before = trace.plate_temperature.window(bead_up.start_s - 10.0, bead_up.start_s)
    after = trace.plate_temperature.window(bead_up.start_s, bead_up.start_s + 30.0)
    if not len(before) or not len(after):
        return False
    return sum(before.values) / len(before) - min(after.values) > DIP_DEGC + 4 * before.noise


def _stood_open(trace: Trace, from_s: float, to_s: float) -> bool:
    """Whether the carriage stood apart for a part of the time: faces that parted for a moment did not."""
    part = trace.carriage.window(from_s, to_s).values
    return sum(mm - part[0] > OPENED_MM for mm in part) > OPEN_SHARE * len(part)


def _opened(trace: Trace, from_s: float, to_s: float) -> bool:
    """Whether the carriage moved apart by more than `OPENED_MM` between two times."""
    part = trace.carriage.window(from_s, to_s)
    return len(part) > 0 and max(part.values) - part.values[0] > OPENED_MM


def _unfinished(runs: Sequence[Run], trace: Trace, hints: Hints) -> Cycle | None:
    """Take a last bead-up that was never closed to a joint, where the plate is known or likely to be in."""
    if not runs or runs[-1].duration_s < BEAD_UP_MIN_S:
        return None
    run = runs[-1]
    plate = trace.plate_in.mean_between(run.start_s, run.end_s)
    low_s = trace.end_s - run.end_s
    stayed = not _opened(trace, run.end_s, run.end_s + min(10.0, low_s / 2))
    likely = low_s >= (0.3 * hints.soak_s if hints.soak_s is not None else 20.0) and stayed
    seated = plate is not None and plate > 0.5
    if seated or (plate is None and (_contact_dip(run, trace) or likely)):
        return Cycle(run, None)
    return None
