"""Where the noise-free value of a channel leaves its band, and for how long."""

from dataclasses import dataclass
from math import sqrt

from logger.phases.series import Series

AVERAGING_S = 1.0
NOISE_SIGMAS = 3.0
"""A mean has to be this many of its own standard deviations beyond the limit: noise makes no excursion."""


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
    """Centred means of a channel, and the standard deviation that noise leaves in them."""

    series: Series
    noise: float


def smoothed(series: Series, averaging_s: float = AVERAGING_S) -> Smooth:
    """Average over `averaging_s` around each reading; where readings are sparser, they stand for themselves.

    Neighbouring readings on ripple are not independent: a third of them counts towards the noise of a mean.
    """
    half_s = averaging_s / 2
    t, v = series.t_s, series.values
    means: list[float] = []
    i = j = 0
    total = 0.0
    widths = 0
    for centre_s in t:
        while j < len(t) and t[j] <= centre_s + half_s:
            total += v[j]
            j += 1
        while t[i] < centre_s - half_s:
            total -= v[i]
            i += 1
        means.append(total / (j - i))
        widths += j - i
    count = widths / len(t) if t else 1.0
    return Smooth(Series(t, tuple(means)), series.noise / sqrt(max(count / 3.0, 1.0)))


def beyond(smooth: Smooth, *, low: float | None = None, high: float | None = None) -> tuple[Excursion, ...]:
    """List the stretches below `low` or above `high` by more than the noise."""
    margin = NOISE_SIGMAS * smooth.noise
    found: list[Excursion] = []
    begin: int | None = None
    t, v = smooth.series.t_s, smooth.series.values
    for k in range(len(t) + 1):
        outside = k < len(t) and (
            (low is not None and v[k] < low - margin) or (high is not None and v[k] > high + margin)
        )
        if outside and begin is None:
            begin = k
        elif not outside and begin is not None:
            stretch = v[begin:k]
            found.append(Excursion(t[begin], t[k - 1], min(stretch) if low is not None else max(stretch)))
            begin = None
    return tuple(found)
