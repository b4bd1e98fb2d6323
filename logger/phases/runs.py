"""Where the pressure is high: hysteresis on a denoised copy, run lengths out.

The runs only have to be in the right second; `edges` places the boundaries.
"""

from bisect import bisect_left, insort
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from logger.phases.levels import Levels
from logger.phases.series import Series

MEDIAN_SPAN_S = 0.4
MEDIAN_MAX = 21
MERGE_S = 1.0
"""A dip or a pulse shorter than this is no change of state."""


@dataclass(frozen=True)
class Run:
    """One stretch of high pressure. `open_end` says that the trace ends inside it."""

    start_s: float
    end_s: float
    open_end: bool = False

    @property
    def duration_s(self) -> float:
        return self.end_s - self.start_s


def median_width(interval_s: float) -> int:
    """Odd number of readings that span about `MEDIAN_SPAN_S`; 1 where sampling is too slow to spare any."""
    if interval_s <= 0:
        return 1
    width = int(MEDIAN_SPAN_S / interval_s) | 1
    return max(3 if interval_s <= 0.5 else 1, min(width, MEDIAN_MAX))


def running_median(values: Iterable[float], width: int) -> Iterator[float]:
    """Centred running median of odd `width`; the ends use what there is."""
    half = width // 2
    window: deque[float] = deque()
    ordered: list[float] = []
    emitted = taken = 0
    for value in values:
        window.append(value)
        insort(ordered, value)
        taken += 1
        if len(window) > width:
            del ordered[bisect_left(ordered, window.popleft())]
        if taken > half:
            emitted += 1
            yield ordered[len(ordered) // 2]
    while emitted < taken:
        if emitted > half:
            del ordered[bisect_left(ordered, window.popleft())]
        emitted += 1
        yield ordered[len(ordered) // 2]


def high_runs(series: Series, levels: Levels) -> tuple[Run, ...]:
    """Find the stretches above the thresholds, dips and pulses under a second merged away."""
    if not len(series) or levels.enter_bar <= 0:
        return ()
    runs: list[Run] = []
    begin: float | None = None
    smooth = running_median(series.values, median_width(series.interval_s))
    for t_s, bar in zip(series.t_s, smooth, strict=True):
        if begin is None and bar > levels.enter_bar:
            begin = t_s
        elif begin is not None and bar < levels.leave_bar:
            runs.append(Run(begin, t_s))
            begin = None
    if begin is not None:
        runs.append(Run(begin, series.t_s[-1], open_end=True))
    return tuple(run for run in _merged(runs) if run.open_end or run.duration_s >= MERGE_S)


def _merged(runs: list[Run]) -> list[Run]:
    merged: list[Run] = []
    for run in runs:
        if merged and run.start_s - merged[-1].end_s < MERGE_S:
            merged[-1] = Run(merged[-1].start_s, run.end_s, run.open_end)
        else:
            merged.append(run)
    return merged
