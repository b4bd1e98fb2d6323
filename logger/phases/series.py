"""One channel's readings over time, with what every detector needs to know of it."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise
from math import ceil, log, sqrt

from logger.domain.gap import longest_interval_s, median_interval_s
from logger.domain.sample import Sample


@dataclass(frozen=True)
class Series:
    """Times in seconds, strictly increasing, and values in the channel's unit, of equal length."""

    t_s: tuple[float, ...]
    values: tuple[float, ...]

    def __len__(self) -> int:
        return len(self.t_s)

    @cached_property
    def interval_s(self) -> float:
        """Median interval between readings; 0 with fewer than two readings."""
        return median_interval_s(self.t_s)

    @cached_property
    def gaps(self) -> tuple[tuple[float, float], ...]:
        """Intervals (from, to) without a reading that are too long."""
        limit_s = longest_interval_s(self.interval_s)
        return tuple((a, b) for a, b in pairwise(self.t_s) if b - a > limit_s)

    @cached_property
    def noise(self) -> float:
        """Standard deviation of the noise, from second differences, so that ramps and steps do not count."""
        if len(self.values) < 8:
            return 0.0
        v = self.values
        bends = sorted(abs(a - 2 * b + c) for a, b, c in zip(v, v[1:], v[2:], strict=False))
        return bends[len(bends) // 2] / (0.6745 * 6**0.5)

    def window(self, from_s: float, to_s: float) -> "Series":
        """Readings with from_s <= t <= to_s."""
        i, j = bisect_left(self.t_s, from_s), bisect_right(self.t_s, to_s)
        return Series(self.t_s[i:j], self.values[i:j])

    def gap_over(self, at_s: float, margin_s: float = 0.0) -> tuple[float, float] | None:
        """Return the gap that contains `at_s`, if there is one."""
        for begin, end in self.gaps:
            if begin - margin_s < at_s < end + margin_s:
                return begin, end
        return None

    def mean_between(self, from_s: float, to_s: float) -> float | None:
        part = self.window(from_s, to_s).values
        return sum(part) / len(part) if part else None


def smoothed(series: Series, span_s: float) -> Series:
    """Centred running means over about `span_s`; readings near the ends have shorter spans."""
    half = int(span_s / 2 / series.interval_s + 1e-9) if series.interval_s > 0 else 0
    if not half:
        return series
    sums = (0.0, *accumulate(series.values))
    n = len(series)
    reach = [(max(k - half, 0), min(k + half + 1, n)) for k in range(n)]
    return Series(series.t_s, tuple((sums[j] - sums[i]) / (j - i) for i, j in reach))


FEWEST_MEANS = 10


def averaged_noise(series: Series, readings: int) -> float:
    """Standard deviation that noise leaves in means over so many readings, seen from such means themselves.

    A transmitter that damps gives readings whose noise remembers itself: next to one another they differ by
    little, and averaging takes less off than it would of independent ones. Second differences of the means,
    so that leak-down and steps do not count; a short stretch has them over fewer readings.
    """
    size = max(1, min(readings, len(series) // FEWEST_MEANS))
    means = [sum(series.values[k : k + size]) / size for k in range(0, len(series) - size + 1, size)]
    return Series(tuple(map(float, range(len(means)))), tuple(means)).noise * sqrt(size / max(1, readings))


SPIKE_MAX_S = 0.4
"""What stands out for longer than this may be a stroke and stays."""


def without_spikes(series: Series, threshold: float) -> Series:
    """Leave out readings that stand out from those shortly before and after them.

    A reading on a rising or falling edge lies between its neighbours on either side and stays.
    This is for fitting; the record keeps every reading.
    """
    v = series.values
    reach = int(SPIKE_MAX_S / 2 / series.interval_s) if series.interval_s > 0 else 0
    reach = max(reach, 1 if series.interval_s <= 0.5 else 0)
    keep = [True] * len(v)
    for i in range(reach, len(v) - reach) if reach else ():
        low, high = min(v[i - reach], v[i + reach]), max(v[i - reach], v[i + reach])
        keep[i] = low - threshold <= v[i] <= high + threshold
    return Series(
        tuple(t for t, k in zip(series.t_s, keep, strict=True) if k),
        tuple(x for x, k in zip(v, keep, strict=True) if k),
    )


STUCK_CHANCE = 1e-6
STUCK_LEAST_READINGS = 10
STUCK_MIN_S = 5.0
OFTEN_REPEATED = 0.7


def without_stuck(series: Series) -> Series:
    """Leave out stretches in which a channel that otherwise never rests repeats one value.

    A frozen transmitter or converter answers on time with its last value; what it says then is no reading.
    """
    v = series.values
    repeats = sum(a == b for a, b in pairwise(v))
    if not 0 < repeats <= OFTEN_REPEATED * len(v):
        return series
    # So many repeats in a row are not chance, however often one value follows itself on this channel.
    by_chance = log(STUCK_CHANCE / len(v)) / log(repeats / len(v))
    readings = max(STUCK_LEAST_READINGS, ceil(by_chance))
    if len(v) < 2 * readings:
        return series
    keep = [True] * len(v)
    begin = 0
    for i in range(1, len(v) + 1):
        if i < len(v) and v[i] == v[begin]:
            continue
        if i - begin >= readings and series.t_s[i - 1] - series.t_s[begin] >= STUCK_MIN_S:
            keep[begin + 1 : i] = [False] * (i - begin - 1)
        begin = i
    return Series(
        tuple(t for t, k in zip(series.t_s, keep, strict=True) if k),
        tuple(x for x, k in zip(v, keep, strict=True) if k),
    )


@dataclass(frozen=True)
class Trace:
    """A curve, channel by channel, each on its own times."""

    pressure: Series
    plate_temperature: Series
    carriage: Series
    plate_in: Series

    @property
    def end_s(self) -> float:
        return max((s.t_s[-1] for s in (self.pressure, self.plate_temperature) if len(s)), default=0.0)


def trace_of(samples: Iterable[Sample]) -> Trace:
    """Split samples into channels; a channel without readings becomes an empty series."""
    rows = list(samples)

    def column(pick: Callable[[Sample], float | None]) -> Series:
        pairs = [(row.t_s, value) for row in rows if (value := pick(row)) is not None]
        return Series(tuple(t for t, _ in pairs), tuple(v for _, v in pairs))

    return Trace(
        pressure=without_stuck(column(lambda row: row.pressure_bar)),
        plate_temperature=column(lambda row: row.plate_temperature_degC),
        carriage=column(lambda row: row.carriage_mm),
        plate_in=column(lambda row: None if row.plate_in is None else float(row.plate_in)),
    )
