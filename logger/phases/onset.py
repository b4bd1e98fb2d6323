"""When a change begins, seen through an unknown first-order lag.

A transmitter behind a long hose, a snubber or cold oil rounds every corner off, but it does not move the
first departure. So the onset is fitted together with the lag: straight line before, then a ramp or a step
passed through a lag, over a grid of onsets and lags. The answer is the mean of the onset over everything that
fits, and its spread the uncertainty. Closed-form least squares on suffix sums, plain floats.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, sqrt

from logger.phases.edges import Knee, solve3
from logger.phases.series import Series

LAGS_S: tuple[float, ...] = (0.02, 0.06, 0.1, 0.15, 0.22, 0.32, 0.46, 0.68)
GRID_PER_INTERVAL = 8
GRID_MIN_S = 0.004


class _Lagged:
    """Suffix sums of one window for one lag: 1, t, t², v, tv, v², e, et, e², ev with e = exp(-t / lag).

    Summed from the end, where e is smallest: the sum over what follows an onset keeps all its digits.
    """

    def __init__(self, times: list[float], values: list[float], lag_s: float) -> None:
        self.lag_s = lag_s
        row = (0.0,) * 10
        rows = [row]
        for t, v in zip(reversed(times), reversed(values), strict=True):
            e = exp(-t / lag_s)
            n, st, stt, sv, stv, svv, se, set_, see, sev = row
            row = (
                n + 1, st + t, stt + t * t, sv + v, stv + t * v, svv + v * v,
                se + e, set_ + e * t, see + e * e, sev + e * v,
            )  # fmt: skip
            rows.append(row)
        self.rows = rows[::-1]

    def rss(self, k: int, onset_s: float, ridge: float, *, is_step: bool) -> float | None:
        """Residual sum of squares, `k` readings before the onset, plus ridge x the slope before, squared."""
        n, st, stt, sv, stv, svv = self.rows[0][:6]
        m, mt, mtt, mv, mtv, _, e, et, ee, ev = self.rows[k]
        g = exp(onset_s / self.lag_s)
        e, et, ee, ev = g * e, g * et, g * g * ee, g * ev
        if is_step:
            r, rt, rv, rr = m - e, mt - et, mv - ev, m - 2 * e + ee
        else:
            # r = (t - onset) - lag + lag e
            c, lag = onset_s + self.lag_s, self.lag_s
            r = mt - c * m + lag * e
            rt = mtt - c * mt + lag * et
            rv = mtv - c * mv + lag * ev
            rr = mtt - 2 * c * mt + c * c * m + 2 * lag * (et - c * e) + lag * lag * ee
        fit = solve3(((n, st, r), (st, stt + ridge, rt), (r, rt, rr)), (sv, stv, rv))
        if fit is None:
            return None
        a, b, s = fit
        return max(svv - a * sv - b * stv - s * rv, 0.0)


@dataclass(frozen=True)
class Onset:
    """A fitted onset, and how well each of `LAGS_S` went with it (summing to 1)."""

    knee: Knee
    lag_weights: tuple[float, ...]


ANY_LAG: tuple[float, ...] = tuple(1.0 / len(LAGS_S) for _ in LAGS_S)
LAG_FLOOR = 0.02
"""A lag that the joint's own fast edges speak against is not ruled out altogether: pump and valve differ."""


def pooled_lags(onsets: Iterable[Onset | None]) -> tuple[float, ...]:
    """What the fast edges of one joint say together about its lag."""
    weights = [1.0 for _ in LAGS_S]
    for onset in onsets:
        if onset is not None:
            weights = [w * max(x, 1e-12) for w, x in zip(weights, onset.lag_weights, strict=True)]
            top = max(weights)
            weights = [w / top for w in weights]
    floored = [max(w, LAG_FLOOR) for w in weights]
    return tuple(w / sum(floored) for w in floored)


def fit_onset(
    series: Series,
    near: tuple[float, float],
    noise: float,
    drift_per_s: float,
    lags: Sequence[float] = ANY_LAG,
) -> Onset | None:
    """Fit the onset of a change.

    Args:
        series: readings before and after the onset; before, and after up to the end, roughly straight.
        near: interval (from, to) in seconds in which the onset is sought.
        noise: standard deviation of the readings.
        drift_per_s: how steep the line before may typically be, in the unit of the values per second.
        lags: weight of each of `LAGS_S` beforehand.

    Returns:
        Mean onset and its standard uncertainty, never below sampling interval / sqrt 12; None with fewer than
        two readings before or one after.
    """
    if len(series) < 5:
        return None
    t0, v0 = series.t_s[0], series.values[0]
    times = [t - t0 for t in series.t_s]
    values = [v - v0 for v in series.values]
    lagged = [_Lagged(times, values, lag_s) for lag_s in LAGS_S]
    ridge = noise * noise / (drift_per_s * drift_per_s) if drift_per_s > 0 else 0.0
    step_s = max(series.interval_s / GRID_PER_INTERVAL, GRID_MIN_S)
    low, high = max(near[0] - t0, times[1]), min(near[1] - t0, times[-1])
    fits: list[tuple[float, float, int]] = []
    for j in range(int((high - low) / step_s) + 1 if high > low else 0):
        onset = low + j * step_s
        k = bisect_right(times, onset)
        if k < 2 or k >= len(times):
            continue
        for index, sums in enumerate(lagged):
            for is_step in (False, True):
                rss = sums.rss(k, onset, ridge, is_step=is_step)
                if rss is not None:
                    fits.append((rss, onset, index))
    return _mean_of(fits, series, noise, lags) if fits else None


def _mean_of(
    fits: list[tuple[float, float, int]], series: Series, noise: float, lags: Sequence[float]
) -> Onset:
    best = min(fits)[0]
    variance = max(noise * noise, best / max(len(series) - 5, 1), 1e-12)
    total = mean = square = 0.0
    by_lag = [0.0] * len(LAGS_S)
    for rss, onset, index in fits:
        weight = exp(-(rss - best) / (2 * variance))
        by_lag[index] += weight
        weight *= lags[index]
        total += weight
        mean += weight * onset
        square += weight * onset * onset
    mean /= total
    spread = max(square / total - mean * mean, series.interval_s**2 / 12)
    sum_of_lags = sum(by_lag)
    knee = Knee(series.t_s[0] + mean, sqrt(spread))
    return Onset(knee, tuple(w / sum_of_lags for w in by_lag))
