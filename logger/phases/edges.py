"""Where a line bends: piecewise-linear description, then a least-squares fit of each knee.

All fits are closed-form least squares over prefix sums in plain floats: every machine gets the same bytes.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log, sqrt

from logger.phases.runs import median_width, running_median
from logger.phases.series import Series

PIECES_RATE_HZ = 10.0
"""The piecewise description works on block means at about this rate; the knee fit uses every reading."""


@dataclass(frozen=True)
class Piece:
    """One straight stretch: value = level + slope x (t - start_s)."""

    start_s: float
    end_s: float
    level: float
    slope: float

    def at(self, t_s: float) -> float:
        return self.level + self.slope * (t_s - self.start_s)

    @property
    def end_level(self) -> float:
        return self.at(self.end_s)


@dataclass(frozen=True)
class Knee:
    """A fitted bend and the standard uncertainty of its time, sampling included."""

    at_s: float
    u_s: float


class _Sums:
    """Prefix sums of 1, t, t², v, tv, v², with t and v relative to the first reading."""

    def __init__(self, series: Series) -> None:
        self.t0 = series.t_s[0]
        self.v0 = series.values[0]
        self.t = [t - self.t0 for t in series.t_s]
        rows = [(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)]
        for t, value in zip(self.t, series.values, strict=True):
            v = value - self.v0
            n, st, stt, sv, stv, svv = rows[-1]
            rows.append((n + 1, st + t, stt + t * t, sv + v, stv + t * v, svv + v * v))
        self.rows = rows

    def between(self, i: int, j: int) -> tuple[float, float, float, float, float, float]:
        a, b = self.rows[i], self.rows[j]
        return (b[0] - a[0], b[1] - a[1], b[2] - a[2], b[3] - a[3], b[4] - a[4], b[5] - a[5])

    def line(self, i: int, j: int) -> tuple[float, float, float]:
        """Level at t=0, slope and residual sum of squares of the straight line through readings i..j-1."""
        n, st, stt, sv, stv, svv = self.between(i, j)
        spread = n * stt - st * st
        slope = (n * stv - st * sv) / spread if spread > 1e-12 else 0.0
        level = (sv - slope * st) / n
        rss = svv - level * sv - slope * stv
        return level + self.v0, slope, max(rss, 0.0)


def block_means(series: Series, rate_hz: float = PIECES_RATE_HZ) -> Series:
    """Average readings in blocks so that about `rate_hz` remain."""
    width = int(1.0 / (rate_hz * series.interval_s) + 0.5) if series.interval_s > 0 else 1
    return series if width < 2 else _blocks(series, width)


def _blocks(series: Series, width: int) -> Series:
    cuts = range(0, len(series) - width + 1, width)
    return Series(
        tuple(sum(series.t_s[i : i + width]) / width for i in cuts),
        tuple(sum(series.values[i : i + width]) / width for i in cuts),
    )


def thinned(series: Series, at_most: int) -> Series:
    """Average readings in blocks so that no more than `at_most` remain: for a long stretch of slow events."""
    width = -(-len(series) // at_most)
    return _blocks(series, width) if width > 1 else series


def pieces_of(series: Series, noise: float) -> tuple[Piece, ...]:
    """Describe `series` by straight pieces: merge neighbours while the fit stays within `noise`.

    Args:
        series: at least two readings; a window of seconds to a minute, not a whole trace.
        noise: standard deviation that a straight piece may leave, in the unit of the values.
    """
    data = block_means(series)
    if len(data) < 2:
        return ()
    sums = _Sums(data)
    cuts = [*range(0, len(data) - 1, 2), len(data)]
    if cuts[-1] - cuts[-2] == 1 and len(cuts) > 2:
        del cuts[-2]
    penalty = 3.0 * noise * noise * log(max(len(data), 3)) + 1e-12
    rss = [sums.line(a, b)[2] for a, b in pairwise(cuts)]
    cost = [
        sums.line(a, c)[2] - rss[k] - rss[k + 1] for k, (a, c) in enumerate(zip(cuts, cuts[2:], strict=False))
    ]
    while cost:
        k = min(range(len(cost)), key=cost.__getitem__)
        if cost[k] > penalty:
            break
        del cuts[k + 1]
        rss[k : k + 2] = [sums.line(cuts[k], cuts[k + 1])[2]]
        del cost[k]
        for m in (k - 1, k):
            if 0 <= m < len(cost):
                cost[m] = sums.line(cuts[m], cuts[m + 2])[2] - rss[m] - rss[m + 1]
    return tuple(_piece(data, sums, a, b) for a, b in pairwise(cuts))


def _piece(data: Series, sums: _Sums, i: int, j: int) -> Piece:
    level, slope, _ = sums.line(i, j)
    return Piece(data.t_s[i], data.t_s[j - 1], level + slope * sums.t[i], slope)


def fit_knee(series: Series, near: tuple[float, float], noise: float) -> Knee | None:
    """Fit two straight lines that meet at the knee, by least squares.

    Args:
        series: readings on both sides of the knee, each side straight.
        near: interval (from, to) in seconds in which the knee is sought.
        noise: standard deviation of the readings; sets the uncertainty with the curvature of the fit.

    Returns:
        The knee, or None with fewer than two readings on either side.
    """
    if len(series) < 4:
        return None
    sums = _Sums(series)
    step_s = max(series.interval_s / 8, 1e-3)
    low, high = max(near[0], series.t_s[0]), min(near[1], series.t_s[-1])
    candidates = [low + k * step_s for k in range(int((high - low) / step_s) + 1)]
    fits = [(rss, t) for t in candidates if (rss := _knee_rss(sums, t - sums.t0)) is not None]
    if not fits:
        return None
    best_rss = min(fits)[0]
    variance = max(noise * noise, best_rss / max(len(series) - 4, 1))
    inside = [t for rss, t in fits if rss - best_rss <= variance]
    # Between two readings every time may fit alike: the middle of what fits, not its first candidate.
    at_s, half_s = (max(inside) + min(inside)) / 2, (max(inside) - min(inside)) / 2
    return Knee(at_s, sqrt(half_s * half_s + series.interval_s**2 / 12))


def _knee_rss(sums: _Sums, t: float) -> float | None:
    """Residual sum of squares of level + slope·t before and an extra slope from `t` on."""
    k = bisect_right(sums.t, t)
    total = len(sums.t)
    if k < 2 or total - k < 1:
        return None
    n, st, stt, sv, stv, svv = sums.between(0, total)
    m, mt, mtt, mv, mtv, _ = sums.between(k, total)
    h = mt - m * t
    ht = mtt - mt * t
    hh = mtt - 2 * t * mt + m * t * t
    hv = mtv - mv * t
    solution = solve3(((n, st, h), (st, stt, ht), (h, ht, hh)), (sv, stv, hv))
    if solution is None:
        return None
    a, b, c = solution
    return max(svv - a * sv - b * stv - c * hv, 0.0)


def solve3(m: Sequence[Sequence[float]], v: Sequence[float]) -> tuple[float, float, float] | None:
    """Solve a symmetric 3 x 3 system by Cramer's rule; None where it is singular."""
    (a, b, c), (_, d, e), (_, _, f) = m
    p, q, r = d * f - e * e, c * e - b * f, b * e - c * d
    det = a * p + b * q + c * r
    if abs(det) < 1e-12 * max(abs(a * d * f), 1e-12):
        return None
    x = (p * v[0] + q * v[1] + r * v[2]) / det
    y = (q * v[0] + (a * f - c * c) * v[1] + (b * c - a * e) * v[2]) / det
    z = (r * v[0] + (b * c - a * e) * v[1] + (a * d - b * b) * v[2]) / det
    return x, y, z


def crossing(series: Series, level: float, near: tuple[float, float], noise: float) -> Knee | None:
    """Time at which the noise-free value first reaches `level` from below, by a line around it.

    Returns None where it never does. `near` bounds the search (from, to) in seconds.
    """
    part = series.window(*near)
    smooth = running_median(part.values, median_width(part.interval_s))
    above = next((i for i, v in enumerate(smooth) if v >= level), None)
    if above is None or len(part) < 3:
        return None
    reach = max(3, int(0.6 / part.interval_s)) if part.interval_s > 0 else 3
    i, j = max(0, above - reach), min(len(part), above + reach)
    return _line_crossing(Series(part.t_s[i:j], part.values[i:j]), part.t_s[above], level, noise)


def _line_crossing(local: Series, around_s: float, level: float, noise: float) -> Knee:
    """Weight the readings next to the level, where a ramp that flattens out is still straight."""
    sums = _Sums(local)
    offset, slope, _ = sums.line(0, len(local))
    before = bisect_left(local.t_s, around_s)
    fallback = local.t_s[max(before - 1, 0)] / 2 + around_s / 2
    at_s = local.t_s[0] + (level - offset) / slope if slope > 0 else fallback
    if abs(at_s - around_s) > max(0.6, 4 * local.interval_s):
        at_s = fallback
    spread = noise / (slope * sqrt(len(local))) if slope > 0 else local.interval_s
    return Knee(at_s, sqrt(spread * spread + local.interval_s**2 / 12))
