"""Block means, straight lines over prefix sums, and where a curve crosses a level.

Closed-form least squares in plain floats: every machine gets the same bytes.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from logger.phases.runs import median_width, running_median
from logger.phases.series import Series


@dataclass(frozen=True)
class Knee:
    """A fitted time and its standard uncertainty, sampling included."""

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


def block_means(series: Series, rate_hz: float) -> Series:
    """Average readings in blocks so that about `rate_hz` remain."""
    width = int(1.0 / (rate_hz * series.interval_s) + 0.5) if series.interval_s > 0 else 1
    return series if width < 2 else _blocks(series, width)


def _blocks(series: Series, width: int) -> Series:
    cuts = range(0, len(series) - width + 1, width)
    return Series(
        tuple(sum(series.t_s[i : i + width]) / width for i in cuts),
        tuple(sum(series.values[i : i + width]) / width for i in cuts),
    )


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


CROSSING_U_S = 0.03
CROSSING_MIN_S = 0.4
CROSSING_MAX_S = 2.5


def crossing(
    series: Series, level: float, near: tuple[float, float], noise: float, room: float = 0.0
) -> Knee | None:
    """Time at which the noise-free value first reaches `level` from below, by a line around it.

    Returns None where it never does. `near` bounds the search (from, to) in seconds; the curve may
    flatten out from `room` above the level on.
    """
    part = series.window(*near)
    smooth = running_median(part.values, median_width(part.interval_s))
    above = next((i for i, v in enumerate(smooth) if v >= level), None)
    if above is None or len(part) < 3:
        return None
    at_s = part.t_s[above]
    before_s = after_s = max(CROSSING_MIN_S, 1.5 * part.interval_s)
    for _ in range(3):
        i, j = bisect_left(part.t_s, at_s - before_s), bisect_right(part.t_s, at_s + after_s)
        i, j = max(min(i, j - 3), 0), max(j, min(i + 3, len(part)))
        sums = _Sums(Series(part.t_s[i:j], part.values[i:j]))
        n, st, stt, *_ = sums.between(0, j - i)
        offset, slope, rss = sums.line(0, j - i)
        if slope <= 0:
            break
        to_s = part.t_s[i] + (level - offset) / slope
        if not near[0] <= to_s <= near[1] or abs(to_s - part.t_s[above]) > CROSSING_MAX_S + part.interval_s:
            break
        at_s = to_s
        sigma = max(noise, sqrt(rss / max(n - 2, 1)))
        away = at_s - part.t_s[i] - st / n
        u_s = sigma / slope * sqrt(1 / n + away * away / max(stt - st * st / n, 1e-9))
        wanted_s = (noise / slope / CROSSING_U_S) ** 2 * part.interval_s / 1.5
        before_s = min(max(wanted_s, CROSSING_MIN_S, 1.5 * part.interval_s), CROSSING_MAX_S)
        after_s = min(before_s, max(0.7 * room / slope, 0.5 * part.interval_s))
    else:
        return Knee(at_s, hypot(u_s, part.interval_s / 12**0.5 / 2))
    before = part.t_s[max(above - 1, 0)]
    return Knee((before + part.t_s[above]) / 2, max(part.t_s[above] - before, part.interval_s) / 12**0.5)
