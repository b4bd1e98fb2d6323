"""When a change begins, seen through an unknown lag.

A transmitter behind a long hose, a snubber, cold oil or a slow valve round every corner off, but they do not
move the first departure. So the onset is fitted together with the lag: a line before (or the tail of the
stroke that went before), then a step or a ramp passed through a lag of first or second order, over a grid of
onsets and lags. The answer is the mean of the onset over all that fits, and its spread the uncertainty.
Closed-form least squares on suffix sums, plain floats.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import exp, sqrt

from logger.phases.edges import Knee, solve3
from logger.phases.series import Series

LAGS_S: tuple[float, ...] = (0.02, 0.06, 0.1, 0.15, 0.22, 0.32, 0.46, 0.68)
"""Total delay of a ramp behind each lag of the grid."""
GRID_PER_INTERVAL = 5
GRID_MIN_S = 0.005
LAG_PER_INTERVAL = 25.0
"""A lag shorter than this part of the sampling interval cannot be told from none."""

LEAST_RESPONSE = 1e-5
"""Sum of squares under which a response is rounding error: its onset lies behind the last reading."""

LEAST_TOLD = 1e-6

_Fit = tuple[float, float, int, bool]
"""Residual sum of squares, onset, index of the lag, whether the change was a ramp."""

Response = Callable[[float, float], tuple[float, float, float, float]]


def _step_1(onset: float, tau: float) -> tuple[float, float, float, float]:
    return 1.0, 0.0, -1.0, 0.0


def _ramp_1(onset: float, tau: float) -> tuple[float, float, float, float]:
    return -(onset + tau), 1.0, tau, 0.0


def _step_2(onset: float, tau: float) -> tuple[float, float, float, float]:
    return 1.0, 0.0, onset / tau - 1.0, -1.0 / tau


def _ramp_2(onset: float, tau: float) -> tuple[float, float, float, float]:
    return -(onset + 2 * tau), 1.0, 2 * tau - onset, 1.0


RESPONSES: dict[int, tuple[Response, Response]] = {1: (_step_1, _ramp_1), 2: (_step_2, _ramp_2)}
"""By order: coefficients (p0, p1, a, b) of p0 + p1 t + exp(-(t - onset) / tau) (a + b t)."""


@dataclass(frozen=True)
class Onset:
    """A fitted onset, and how well each of `LAGS_S` went with it (summing to 1)."""

    knee: Knee
    lag_weights: tuple[float, ...]


TYPICAL_LAG_S = 0.5
_BY_LENGTH = tuple(exp(-lag_s / TYPICAL_LAG_S) for lag_s in LAGS_S)
ANY_LAG: tuple[float, ...] = tuple(weight / sum(_BY_LENGTH) for weight in _BY_LENGTH)
"""Before anything is known: the longer, the rarer."""
SENSOR_SHARE = 0.7
LAG_FLOOR = 0.02
"""A lag that the joint's own fast edges speak against is not ruled out altogether: pump and valve differ."""


def pooled_lags(onsets: Iterable[Onset | None]) -> tuple[float, ...]:
    """What the fast edges of one joint say together about its lag."""
    weights = list(ANY_LAG)
    for onset in onsets:
        if onset is not None:
            weights = [w * max(x, 1e-12) for w, x in zip(weights, onset.lag_weights, strict=True)]
            top = max(weights)
            weights = [w / top for w in weights]
    floored = [max(w, LAG_FLOOR) for w in weights]
    return tuple(w / sum(floored) for w in floored)


def delay_of(lags: Sequence[float]) -> tuple[float, float]:
    """How late a ramp shows behind these lags: mean and standard uncertainty in seconds.

    The corners that are fitted are rounded by valve and transmitter together, but only the transmitter's part
    comes between cylinder and reading. The share is not known: SENSOR_SHARE is a choice, and half of what it
    leaves is uncertainty.
    """
    mean = sum(lag * weight for lag, weight in zip(LAGS_S, lags, strict=True))
    square = sum(lag * lag * weight for lag, weight in zip(LAGS_S, lags, strict=True))
    spread = max(square - mean * mean, 0.0) * SENSOR_SHARE**2
    return SENSOR_SHARE * mean, sqrt(spread + ((1 - SENSOR_SHARE) / 2 * mean) ** 2)


@dataclass(frozen=True)
class Before:
    """What the readings before the onset look like.

    A straight line whose slope is typically `drift_per_s`, or with `settling` a level and the tail of a
    stroke that the same lag rounds off.
    """

    drift_per_s: float
    settling: bool = False


class _Lagged:
    """Suffix sums of one window for one lag, with e = exp(-(t - reference) / tau) from the reference on.

    Summed from the end, where e is smallest: the sum over what follows an onset keeps all its digits. Order:
    1, t, t², v, tv, v², e, te, t²e, e², te², t²e², ve, tve. Times are relative to the first reading.
    """

    def __init__(self, times: Sequence[float], values: Sequence[float], reference: float, tau: float) -> None:
        self.tau = tau
        self.reference = reference
        self.tail = exp(-reference / tau)
        row: tuple[float, ...] = (0.0,) * 14
        rows = [row]
        for t, v in zip(reversed(times), reversed(values), strict=True):
            e = exp(-(t - reference) / tau) if t >= reference else 0.0
            te, ee = t * e, e * e
            terms = (1.0, t, t * t, v, t * v, v * v, e, te, t * te, ee, t * ee, t * t * ee, v * e, v * te)
            row = tuple(a + b for a, b in zip(row, terms, strict=True))
            rows.append(row)
        self.rows = rows[::-1]
        tails = [exp(-t / tau) for t in times]
        self.tails = (
            sum(tails),
            sum(s * s for s in tails),
            sum(s * v for s, v in zip(tails, values, strict=True)),
        )

    def rss(self, k: int, onset: float, response: Response, before: Before, ridge: float) -> float | None:
        """Residual sum of squares, the first `k` readings lying before the onset."""
        n, st, stt, sv, stv, svv = self.rows[0][:6]
        m, mt, mtt, mv, mtv, _, e, te, tte, ee, tee, ttee, ve, tve = self.rows[k]
        p0, p1, a, b = response(onset, self.tau)
        g = exp((onset - self.reference) / self.tau)
        q, qt, qv = g * (a * e + b * te), g * (a * te + b * tte), g * (a * ve + b * tve)
        qq = g * g * (a * a * ee + 2 * a * b * tee + b * b * ttee)
        r, rv = p0 * m + p1 * mt + q, p0 * mv + p1 * mtv + qv
        rr = p0 * p0 * m + 2 * p0 * p1 * mt + p1 * p1 * mtt + 2 * (p0 * q + p1 * qt) + qq
        if rr < LEAST_RESPONSE:
            return None
        if before.settling:
            second, square, product = self.tails
            cross = self.tail * (p0 * e + p1 * te + g * (a * ee + b * tee))
        else:
            second, square, product = st, stt + ridge, stv
            cross = p0 * mt + p1 * mtt + qt
        fit = solve3(((n, second, r), (second, square, cross), (r, cross, rr)), (sv, product, rv))
        if fit is None:
            return None
        return max(svv - fit[0] * sv - fit[1] * product - fit[2] * rv, 0.0)


def fit_onset(
    series: Series,
    near: tuple[float, float],
    noise: float,
    before: Before,
    lags: Sequence[float] = ANY_LAG,
) -> Onset | None:
    """Fit the onset of a change.

    Args:
        series: readings before and after the onset; after it, up to the end, a step or roughly a ramp.
        near: interval (from, to) in seconds in which the onset is sought.
        noise: standard deviation of the readings.
        before: what the readings before look like.
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
    ridge = noise * noise / (before.drift_per_s * before.drift_per_s) if before.drift_per_s > 0 else 0.0
    step_s = max(series.interval_s / GRID_PER_INTERVAL, GRID_MIN_S)
    low, high = max(near[0] - t0, times[1]), min(near[1] - t0, times[-1])
    onsets = [low + j * step_s for j in range(int((high - low) / step_s) + 1 if high > low else 0)]
    cuts = [(onset, k) for onset in onsets if 2 <= (k := bisect_right(times, onset)) < len(times)]
    fits: list[_Fit] = []
    for index, lag_s in enumerate(LAGS_S):
        for order, responses in RESPONSES.items():
            tau = max(lag_s / order, series.interval_s / LAG_PER_INTERVAL)
            sums = _Lagged(times, values, max(low, 0.0), tau)
            for response in responses:
                is_ramp = response in (_ramp_1, _ramp_2)
                for onset, k in cuts:
                    rss = sums.rss(k, onset, response, before, ridge)
                    if rss is not None:
                        fits.append((rss, onset, index, is_ramp))
    return _mean_of(fits, series, noise, lags) if fits else None


def _mean_of(fits: list[_Fit], series: Series, noise: float, lags: Sequence[float]) -> Onset:
    """Average over the fits; only ramps tell the lag, since a lagged step looks like a ramp of its own."""
    best = min(fits)[0]
    variance = max(noise * noise, best / max(len(series) - 5, 1), 1e-12)
    total = mean = square = 0.0
    by_lag = [0.0] * len(LAGS_S)
    for rss, onset, index, is_ramp in fits:
        weight = exp(-(rss - best) / (2 * variance))
        by_lag[index] += weight if is_ramp else 0.0
        weight *= lags[index]
        total += weight
        mean += weight * onset
        square += weight * onset * onset
    mean /= total
    spread = max(square / total - mean * mean, series.interval_s**2 / 12)
    told = sum(by_lag)
    weights = tuple(w / told for w in by_lag) if told > LEAST_TOLD else ANY_LAG
    return Onset(Knee(series.t_s[0] + mean, sqrt(spread)), weights)
