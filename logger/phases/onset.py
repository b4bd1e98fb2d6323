"""When a change begins, seen through an unknown lag.

A transmitter behind a long hose, a snubber, cold oil or a slow valve round every corner off, but they do not
move the first departure. So the onset is fitted together with the lags: a line before (or the tail of the
stroke that went before), then a step or a ramp passed through the transmitter's lag and a valve's, over a
grid of onsets and lags. The answer is the mean of the onset over all that fits, its spread the uncertainty.
Closed-form least squares on suffix sums, plain floats.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, sqrt
from typing import NamedTuple

from logger.phases.edges import Knee, solve3
from logger.phases.lag import Lag
from logger.phases.series import Series

GRID_PER_INTERVAL = 5
GRID_MIN_S = 0.005
COARSE = 24
FINE = 24
FAR_CHI2 = 30.0
LARGEST_EXPONENT = 300.0
LAG_PER_INTERVAL = 25.0
"""A lag shorter than this part of the sampling interval cannot be told from none."""
LAG_QUANTILES = (0.05, 0.35, 0.65, 0.95)
LAG_SHARES = (0.08, 0.15, 0.31, 0.31, 0.15)
"""Of no lag at all, whatever the tails say, and of the quantiles."""
VALVE_S = (0.01, 0.05, 0.1, 0.17, 0.28)
"""What valve and pump may add to the transmitter's lag."""
VALVE_SHARES = (0.2, 0.2, 0.25, 0.2, 0.15)
UNEQUAL = 1.1
LEAST_RESPONSE = 1e-5
"""Sum of squares under which a response is rounding error: its onset lies behind the last reading."""


@dataclass(frozen=True)
class Before:
    """What the readings before the onset look like.

    A straight line whose slope is typically `drift_per_s`, or with `settling` a level and the tail of a
    stroke that the same lag rounds off; the level is `level` within the standard uncertainty `level_u`,
    where that is known beforehand.
    """

    drift_per_s: float
    settling: bool = False
    level: float | None = None
    level_u: float = 1.0


class _Prior(NamedTuple):
    """What is known beforehand, as readings that count `weight` times (level) or `slope` times (no slope)."""

    slope: float
    weight: float
    level: float


class _Fit(NamedTuple):
    rss: float
    onset: float
    lags: "_Lagged"
    is_ramp: bool
    coefficients: tuple[float, float, float]


class _Lagged:
    """Suffix sums of one window for one pair of lags, e = exp(-(t - reference) / lag) from the reference on.

    Summed from the end, where e is smallest: the sum over what follows an onset keeps all its digits. Order:
    1, t, t², v, tv, v², e, te, e², ve, f, tf, f², vf, ef. Times are relative to the first reading.
    """

    def __init__(
        self,
        times: Sequence[float],
        values: Sequence[float],
        reference: float,
        lags: tuple[float, float],
        share: float,
    ) -> None:
        self.share = share
        self.reference = reference
        tau, valve = self.lags = lags
        self.tail = exp(-reference / tau)
        row: tuple[float, ...] = (0.0,) * 15
        rows = [row]
        for t, v in zip(reversed(times), reversed(values), strict=True):
            x = t - reference
            e, f = (exp(-x / tau), exp(-x / valve)) if x >= 0 else (0.0, 0.0)
            terms = (1.0, t, t * t, v, t * v, v * v, e, t * e, e * e, v * e, f, t * f, f * f, v * f, e * f)
            row = tuple(a + b for a, b in zip(row, terms, strict=True))
            rows.append(row)
        self.rows = rows[::-1]
        tails = [exp(-t / tau) for t in times]
        self.tails = (
            sum(tails),
            sum(s * s for s in tails),
            sum(s * v for s, v in zip(tails, values, strict=True)),
        )

    def response(self, onset: float, *, ramp: bool) -> tuple[float, float, float, float]:
        """Coefficients of 1, t, exp(-(t - onset) / lag) and exp(-(t - onset) / valve)."""
        tau, valve = self.lags
        if ramp:
            return -onset - tau - valve, 1.0, tau * tau / (tau - valve), valve * valve / (valve - tau)
        return 1.0, 0.0, tau / (valve - tau), valve / (tau - valve)

    def fit(
        self, k: int, onset: float, prior: _Prior, *, ramp: bool, settling: bool
    ) -> tuple[float, tuple[float, float, float]] | None:
        """Residual sum of squares and coefficients, the first `k` readings lying before the onset."""
        n, st, stt, sv, stv, svv, *_ = self.rows[0]
        m, mt, mtt, mv, mtv, _, e, te, ee, ve, f, tf, ff, vf, ef = self.rows[k]
        p0, p1, a, b = self.response(onset, ramp=ramp)
        tau, valve = self.lags
        a *= exp((onset - self.reference) / tau)
        b *= exp((onset - self.reference) / valve)
        q, qt, qv = a * e + b * f, a * te + b * tf, a * ve + b * vf
        qq = a * a * ee + 2 * a * b * ef + b * b * ff
        r, rv = p0 * m + p1 * mt + q, p0 * mv + p1 * mtv + qv
        rr = p0 * p0 * m + 2 * p0 * p1 * mt + p1 * p1 * mtt + 2 * (p0 * q + p1 * qt) + qq
        if rr < LEAST_RESPONSE:
            return None
        if settling:
            second, square, product = self.tails
            cross = self.tail * (p0 * e + p1 * te + a * ee + b * ef)
        else:
            second, square, product = st, stt + prior.slope, stv
            cross = p0 * mt + p1 * mtt + qt
        n, sv, svv = n + prior.weight, sv + prior.weight * prior.level, svv + prior.weight * prior.level**2
        fit = solve3(((n, second, r), (second, square, cross), (r, cross, rr)), (sv, product, rv))
        if fit is None:
            return None
        return max(svv - fit[0] * sv - fit[1] * product - fit[2] * rv, 0.0), fit


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
    window = _Window(series, near, noise, before, lag)
    low, high = max(near[0] - window.t0, window.times[1]), min(near[1] - window.t0, window.times[-1])
    if high <= low:
        return None
    floor_s = max(series.interval_s / GRID_PER_INTERVAL, GRID_MIN_S)
    step_s = max((high - low) / COARSE, floor_s)
    fits = window.fits(_grid(low, high, step_s))
    if not fits:
        return None
    if step_s > floor_s:
        best = min(fit.rss for fit in fits)
        likely = [f.onset for f in fits if f.rss - best < FAR_CHI2 * window.variance(best)]
        low, high = max(low, min(likely) - step_s), min(high, max(likely) + step_s)
        fits = window.fits(_grid(low, high, max((high - low) / FINE, floor_s)))
    return window.mean_of(fits) if fits else None


def _grid(low: float, high: float, step: float) -> list[float]:
    return [low + (j + 0.5) * step for j in range(max(int((high - low) / step), 1))]


class _Window:
    """One stretch of readings with the sums for every pair of lags."""

    def __init__(
        self, series: Series, near: tuple[float, float], noise: float, before: Before, lag: Lag
    ) -> None:
        self.t0, v0 = series.t_s[0], series.values[0]
        self.times = [t - self.t0 for t in series.t_s]
        self.values = [v - v0 for v in series.values]
        self.interval_s, self.noise, self.before = series.interval_s, noise, before
        variance = max(noise * noise, 1e-12)
        self.prior = _Prior(
            slope=variance / before.drift_per_s**2 if before.drift_per_s > 0 else 0.0,
            weight=0.0 if before.level is None else variance / before.level_u**2,
            level=0.0 if before.level is None else before.level - v0,
        )
        reference = max(near[0] - self.t0, 0.0)
        least_s = max(self.interval_s / LAG_PER_INTERVAL, (near[1] - near[0]) / LARGEST_EXPONENT)
        self.sums = [
            _Lagged(
                self.times, self.values, reference, _unequal(tau_s, valve_s, least_s), share * valve_share
            )
            for tau_s, share in zip((0.0, *lag.quantiles(LAG_QUANTILES)), LAG_SHARES, strict=True)
            for valve_s, valve_share in zip(VALVE_S, VALVE_SHARES, strict=True)
        ]

    def variance(self, rss: float) -> float:
        return max(self.noise**2, rss / max(len(self.times) - 5, 1), 1e-12)

    def fits(self, onsets: Sequence[float]) -> list[_Fit]:
        cuts = [
            (onset, k) for onset in onsets if 2 <= (k := bisect_right(self.times, onset)) < len(self.times)
        ]
        settling, prior = self.before.settling, self.prior
        return [
            _Fit(fit[0], onset, sums, ramp, fit[1])
            for sums in self.sums
            for ramp in (True, False)
            for onset, k in cuts
            if (fit := sums.fit(k, onset, prior, ramp=ramp, settling=settling)) is not None
        ]

    def mean_of(self, fits: Sequence[_Fit]) -> Knee | None:
        """Average over the fits, each by how well it fits and how likely its lags are."""
        best = min(fits, key=lambda fit: fit.rss)
        variance = self.variance(best.rss) * self._correlated(best)
        total = mean = square = 0.0
        for fit in fits:
            weight = exp(-(fit.rss - best.rss) / (2 * variance)) * fit.lags.share
            total += weight
            mean += weight * fit.onset
            square += weight * fit.onset**2
        mean /= total
        spread = max(square / total - mean * mean, self.interval_s**2 / 12)
        return Knee(self.t0 + mean, sqrt(spread))

    def _correlated(self, fit: _Fit) -> float:
        """By how much residuals that go along with their neighbours (ripple, another shape) say less."""
        tau, valve = fit.lags.lags
        p0, p1, a, b = fit.lags.response(fit.onset, ramp=fit.is_ramp)
        level, slope, change = fit.coefficients
        rest = []
        for t, v in zip(self.times, self.values, strict=True):
            x = level + slope * (exp(-t / tau) if self.before.settling else t)
            since = t - fit.onset
            if since > 0:
                x += change * (p0 + p1 * t + a * exp(-since / tau) + b * exp(-since / valve))
            rest.append(v - x)
        square = sum(r * r for r in rest)
        if square <= 0.0:
            return 1.0
        along = max(sum(r * s for r, s in pairwise(rest)) / square - 1.0 / sqrt(len(rest)), 0.0)
        return (1 + along) / (1 - min(along, 0.8))


def _unequal(tau_s: float, valve_s: float, least_s: float) -> tuple[float, float]:
    """The two lags, apart from one another and from nothing: the closed forms divide by their difference."""
    tau_s, valve_s = max(tau_s, least_s), max(valve_s, least_s)
    return (tau_s, valve_s) if not 1 / UNEQUAL < tau_s / valve_s < UNEQUAL else (tau_s, tau_s / UNEQUAL)
