"""Where the noise-free value of a channel leaves its band, and for how long."""

from dataclasses import dataclass
from itertools import accumulate
from math import sqrt

from logger.judge.budget import level_noise
from logger.phases.runs import running_median
from logger.phases.series import Series, averaged_noise

AVERAGING_S = 1.0
NOISE_SIGMAS = 3.0
"""A median has to be this many of its own standard deviations beyond the limit: noise makes no excursion."""
LEVEL_S = 10.0
LEVEL_SIGMAS = 4.0
"""A level held for seconds is known better than a median; so is the room that chance is given."""

TELLING_READINGS = 20
"""So many readings tell their own noise well enough: a choice."""
MEDIAN_FACTOR = 1.25
SINGLE_FACTOR = 1.5
"""Where readings stand for themselves one of very many must not make an excursion by chance."""


@dataclass(frozen=True)
class Excursion:
    """One stretch beyond a limit: from, to, and the value furthest out."""

    start_s: float
    end_s: float
    extreme: float

    @property
    def duration_s(self) -> float:
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Smooth:
    """Running medians of a channel over `width` readings, and the standard deviation noise leaves in them."""

    series: Series
    noise: float
    width: int

    def margin(self, k: int) -> float:
        """What noise may do to median `k`: near either end fewer readings make it."""
        half = self.width // 2
        readings = min(k, half) + 1 + min(len(self.series) - 1 - k, half)
        return NOISE_SIGMAS * self.noise * sqrt(self.width / readings)


def smoothed(series: Series, averaging_s: float = AVERAGING_S, *, noise: float = 0.0) -> Smooth:
    """Take running medians over `averaging_s`; where readings are sparser, they stand for themselves.

    A median, so that spikes do not count. Its noise is that of a mean times 1.25 (normal readings); only a
    third of the readings counts, since neighbours on a ripple are not independent, and no less is taken than
    what averages of this width were seen to scatter. `noise` is that of one reading, taken where too few tell
    it.
    """
    width = int(averaging_s / series.interval_s) | 1 if series.interval_s > 0 else 1
    medians = tuple(running_median(series.values, width))
    single = series.noise if len(series) >= TELLING_READINGS else max(series.noise, noise)
    if width < 5:
        return Smooth(Series(series.t_s, medians), SINGLE_FACTOR * single, width)
    averaged = max(single / sqrt(width / 3.0), averaged_noise(series, width))
    return Smooth(Series(series.t_s, medians), MEDIAN_FACTOR * averaged, width)


@dataclass(frozen=True)
class Levels:
    """Means over `span_s` of the noise-free value, and the standard deviation left in each."""

    series: Series
    span_s: float
    noise: float

    def worst(self, *, is_max: bool) -> tuple[float, float]:
        """The level furthest out, and the time its stretch begins."""
        pick = max if is_max else min
        at = pick(range(len(self.series)), key=self.series.values.__getitem__)
        return self.series.values[at], self.series.t_s[at]


def levels_of(series: Series, smooth: Smooth) -> Levels:
    """Means over ten seconds, over half of a shorter stretch; each stands at the time its stretch begins."""
    t, v = smooth.series.t_s, smooth.series.values
    if not len(t):
        return Levels(smooth.series, 0.0, 0.0)
    span_s = min(LEVEL_S, (t[-1] - t[0]) / 2)
    width = max(1, int(span_s / series.interval_s)) if series.interval_s > 0 else 1
    sums = [0.0, *accumulate(v)]
    means = tuple((sums[k + width] - sums[k]) / width for k in range(len(v) - width + 1))
    return Levels(Series(t[: len(means)], means), span_s, level_noise(series, span_s))


def beyond(smooth: Smooth, *, low: float | None = None, high: float | None = None) -> tuple[Excursion, ...]:
    """List the stretches below `low` or above `high` by more than the noise."""
    found: list[Excursion] = []
    begin: int | None = None
    t, v = smooth.series.t_s, smooth.series.values
    for k in range(len(t) + 1):
        outside = k < len(t) and (
            (low is not None and v[k] < low - smooth.margin(k))
            or (high is not None and v[k] > high + smooth.margin(k))
        )
        if outside and begin is None:
            begin = k
        elif not outside and begin is not None:
            stretch = v[begin:k]
            found.append(Excursion(t[begin], t[k - 1], min(stretch) if low is not None else max(stretch)))
            begin = None
    return tuple(found)
