"""When a change begins, seen through an unknown lag.

A transmitter behind a long hose, a snubber, cold oil or a slow valve round every corner off, but they do not
move the first departure. So the onset is fitted together with the lags: a line before (or the tail of the
stroke that went before), then a step or a ramp passed through the transmitter's lag and a valve's, over a
grid of onsets and lags. The answer is the mean of the onset over all that fits, its spread the uncertainty.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, sqrt
from typing import NamedTuple

from logger.phases.edges import Knee, variance_in_sums
from logger.phases.lag import Lag
from logger.phases.lagged import Cut, Fit, Prior, Shape, Window
from logger.phases.series import Series

GRID_PER_INTERVAL = 5
GRID_MIN_S = 0.005
COARSE = 16
FINE = 12
RESOLVED = 5
ZOOMS = 3
FAR_CHI2 = 30.0
LARGEST_EXPONENT = 300.0
LAG_PER_INTERVAL = 25.0
"""A lag shorter than this part of the sampling interval cannot be told from none."""
LAG_QUANTILES = (0.05, 0.35, 0.65, 0.95)
LAG_SHARES = (0.08, 0.15, 0.31, 0.31, 0.15)
"""Of no lag at all, whatever the tails say, and of the quantiles."""
VALVE_S = (0.01, 0.06, 0.13, 0.25, 0.5)
"""What valve and pump may add to the transmitter's lag."""
VALVE_SHARES = (0.2, 0.27, 0.27, 0.16, 0.1)
UNEQUAL = 1.1
BEND_S = 0.3
"""So shortly before an onset its residuals already count as those of the bend."""
LEAST_U_S = 0.04
"""A valve opens and faces press gently at first: how exactly a knee is a knee, a choice."""
ROUNDING_SHARE = 0.08
"""Of both lags together: how exactly the shape of a corner and a dead time are known, a choice."""
DEAD_SHARE = 0.1
"""Dead time of a transmitter as a share of its lag, which nothing in a curve tells: a choice."""


@dataclass(frozen=True)
class Before:
    """What the readings before the onset look like.

    A straight line whose slope is typically `drift_per_s`, or with `settling` a level and the tail of a
    stroke that the same lag rounds off; the level is `level` within the standard uncertainty `level_u`,
    where that is known beforehand. `heads` are by how much a ramp may be ahead at once, each with its share.
    `rounding_share` is how exactly the corner is known, as a share of both lags.
    """

    drift_per_s: float
    settling: bool = False
    level: float | None = None
    level_u: float = 1.0
    heads: tuple[tuple[float, float], ...] = ((0.0, 1.0),)
    rounding_share: float = ROUNDING_SHARE


class _Candidate(NamedTuple):
    rss: float
    onset_s: float
    shape: Shape
    share: float


def fit_onset(
    series: Series, near: tuple[float, float], noise: float, before: Before, lag: Lag
) -> Knee | None:
    """Fit the onset of a change.

    Args:
        series: readings before and after the onset; after it, up to the end, a step or roughly a ramp.
        near: interval (from, to) in seconds in which the onset is sought.
        noise: standard deviation of the readings.
        before: what the readings before look like.
        lag: what is known of the transmitter.

    Returns:
        Mean onset and its standard uncertainty, never below sampling interval / sqrt 12; None with fewer than
        two readings before or one after.
    """
    if len(series) < 5:
        return None
    search = _Search(series, near, noise, before, lag)
    low, high = max(near[0] - search.t0, search.times[1]), min(near[1] - search.t0, search.times[-1])
    if high <= low:
        return None
    found = search.everything(low, high)
    return search.mean_of(found) if found else None


def _grid(low: float, high: float, step: float) -> list[float]:
    return [low + (j + 0.5) * step for j in range(max(int((high - low) / step), 1))]


def _lowest(fits: Sequence[Fit]) -> float:
    """Least sum of squares between these onsets, by a parabola through the best and its neighbours."""
    k = min(range(len(fits)), key=lambda j: fits[j].rss)
    if not 0 < k < len(fits) - 1:
        return fits[k].rss
    before, here, after = (fit.rss for fit in fits[k - 1 : k + 2])
    bend = before - 2 * here + after
    return max(here - (after - before) ** 2 / (8 * bend), 0.0) if bend > 0 else here


class _Search:
    """One stretch of readings and every shape that may begin in it, each with how likely it is beforehand."""

    def __init__(
        self, series: Series, near: tuple[float, float], noise: float, before: Before, lag: Lag
    ) -> None:
        self.t0, v0 = series.t_s[0], series.values[0]
        self.times = [t - self.t0 for t in series.t_s]
        self.interval_s, self.settling = series.interval_s, before.settling
        self.lag_s, self.rounding_share = lag.mean_s, before.rounding_share
        self.floor_s = max(series.interval_s / GRID_PER_INTERVAL, GRID_MIN_S)
        self.least_variance = max(noise * noise, 1e-12)
        prior = Prior(
            slope=self.least_variance / before.drift_per_s**2 if before.drift_per_s > 0 else 0.0,
            weight=0.0 if before.level is None else self.least_variance / before.level_u**2,
            level=0.0 if before.level is None else before.level - v0,
        )
        reference_s = max(near[0] - self.t0, 0.0)
        self.window = Window(self.times, [v - v0 for v in series.values], reference_s, prior)
        least_s = max(self.interval_s / LAG_PER_INTERVAL, (near[1] - near[0]) / LARGEST_EXPONENT)
        self.shapes: dict[Shape, float] = {}
        for tau_s, share in zip((0.0, *lag.quantiles(LAG_QUANTILES)), LAG_SHARES, strict=True):
            for valve_s, valve_share in zip(VALVE_S, VALVE_SHARES, strict=True):
                lags = _unequal(tau_s, valve_s, least_s)
                for head_s, likely in (*before.heads, (None, 1.0)):
                    shape, beforehand = Shape(*lags, head_s), share * valve_share * likely
                    self.shapes[shape] = self.shapes.get(shape, 0.0) + beforehand

    def variance(self, rss: float) -> float:
        return max(self.least_variance, rss / max(len(self.times) - 5, 1))

    def everything(self, low: float, high: float) -> list[_Candidate]:
        """Every shape that may fit with the onsets at which it does: first widely, then shape by shape."""
        step_s = max((high - low) / COARSE, self.floor_s)
        cuts = self._cuts(low, high, step_s)
        widely = {shape: fits for shape in self.shapes if (fits := self._fits(shape, cuts))}
        best = min((fit.rss for fits in widely.values() for fit in fits), default=0.0)
        far = best + FAR_CHI2 * self.variance(best)
        found = []
        for shape, fits in widely.items():
            if _lowest(fits) < far:
                found += self._closely(shape, fits, step_s, (low, high))
        return found

    def _closely(
        self, shape: Shape, fits: list[Fit], step_s: float, within: tuple[float, float]
    ) -> list[_Candidate]:
        """Look closer where this shape fits, until several onsets do."""
        for _ in range(ZOOMS):
            least = min(fit.rss for fit in fits)
            far = least + FAR_CHI2 * self.variance(least)
            likely = [fit.onset_s for fit in fits if fit.rss <= far]
            if len(likely) >= RESOLVED or step_s <= self.floor_s:
                break
            low, high = max(likely[0] - step_s, within[0]), min(likely[-1] + step_s, within[1])
            step_s = max((high - low) / FINE, self.floor_s)
            fits = self._fits(shape, self._cuts(low, high, step_s)) or fits
        share = self.shapes[shape] * step_s
        return [_Candidate(fit.rss, fit.onset_s, shape, share) for fit in fits]

    def _fits(self, shape: Shape, cuts: Sequence[Cut]) -> list[Fit]:
        return self.window.fits(shape, cuts, settling=self.settling)

    def _cuts(self, low: float, high: float, step_s: float) -> list[Cut]:
        """Onsets that far apart, each with two readings or more before it and one after."""
        n = len(self.times)
        onsets = _grid(low, high, step_s)
        return [Cut(onset, n - k) for onset in onsets if 2 <= (k := bisect_right(self.times, onset)) < n]

    def mean_of(self, found: Sequence[_Candidate]) -> Knee:
        """Average over the candidates, each by how well it fits and how likely it is beforehand."""
        best = min(found, key=lambda candidate: candidate.rss)
        rest = self.window.rest(best.shape, best.onset_s, settling=self.settling)
        bend = bisect_right(self.times, best.onset_s - BEND_S)
        least = self.least_variance
        variance = max(
            self.variance(best.rss), *(variance_in_sums(r, least) for r in (rest[:bend], rest[bend:]))
        )
        total = mean = square = rounding_s = 0.0
        for rss, onset_s, shape, share in found:
            weight = exp((best.rss - rss) / (2 * variance)) * share
            total += weight
            mean += weight * onset_s
            square += weight * onset_s**2
            rounding_s += weight * (shape.tau_s + shape.valve_s)
        mean /= total
        spread = max(square / total - mean * mean, self.interval_s**2 / 12)
        u_s = hypot(sqrt(spread), LEAST_U_S, self.rounding_share * rounding_s / total)
        return Knee(self.t0 + mean - DEAD_SHARE * self.lag_s, u_s)


def _unequal(tau_s: float, valve_s: float, least_s: float) -> tuple[float, float]:
    """The two lags, apart from one another and from nothing: the closed forms divide by their difference."""
    tau_s, valve_s = max(tau_s, least_s), max(valve_s, least_s)
    return (tau_s, valve_s) if not 1 / UNEQUAL < tau_s / valve_s < UNEQUAL else (tau_s, tau_s / UNEQUAL)
