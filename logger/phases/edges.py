"""Block means, straight lines over prefix sums, and where a curve crosses a level.

Closed-form least squares in plain floats: every machine gets the same bytes.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from logger.phases.lag import Lag
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


BLOCKS = 4
"""Residuals that hang together are looked for in sums of up to a fourth of them, ..."""
AS_BLOCKS = 4
"""... believing beforehand, like so many sums more, that they do not."""


def variance_in_sums(rest: Sequence[float], least: float) -> float:
    """Variance per reading that these residuals have in sums of neighbours, where it is most.

    More than `least` where they go along with one another: ripple, noise with a memory, another shape.
    """
    most, width = least, 1
    while width * BLOCKS <= len(rest):
        cuts = range(0, len(rest) - width + 1, width)
        square = sum(sum(rest[k : k + width]) ** 2 for k in cuts) / width
        most = max(most, (square + AS_BLOCKS * least) / (len(cuts) + AS_BLOCKS))
        width *= 2
    return most


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


CROSSING_U_S = 0.03
LEAST_U_S = 0.02
CROSSING_MIN_S = 0.4
CROSSING_MAX_S = 2.5
LAG_QUANTILES = (0.05, 0.35, 0.65, 0.95)
LAG_SHARES = (0.16, 0.34, 0.34, 0.16)
DELAY_SHARE = 0.05
DELAY_U_SHARE = 0.4
"""By how much of its lag a transmitter shows a ramp later still, and how exactly that is known: a choice,
since no first-order lag is all that delays."""


def crossing(
    series: Series, level: float, near: tuple[float, float], noise: float, lag: Lag, room: float = 0.0
) -> Knee | None:
    """Time at which what the transmitter shows late first reached `level` from below, by a line around it.

    Returns None where it never does. `near` bounds the search (from, to) in seconds; the curve may
    flatten out from `room` above the level on.
    """
    part = series.window(*near)
    smooth = running_median(part.values, median_width(part.interval_s))
    above = next((i for i, v in enumerate(smooth) if v >= level), None)
    if above is None or len(part) < 3:
        return None
    at_s = square = fitted = 0.0
    for lag_s, share in zip(lag.quantiles(LAG_QUANTILES), LAG_SHARES, strict=True):
        knee = _crossed(part, level, above, lag_s, noise, room)
        at_s, fitted = at_s + share * knee.at_s, fitted + share * knee.u_s
        square += share * knee.at_s**2
    spread_s = sqrt(max(square - at_s * at_s, 0.0))
    at_s = max(at_s - DELAY_SHARE * lag.mean_s, near[0])
    delayed_s, between_s = DELAY_U_SHARE * lag.mean_s, part.interval_s / 12**0.5 / 2
    return Knee(at_s, hypot(fitted, spread_s, delayed_s, LEAST_U_S, between_s))


def _crossed(part: Series, level: float, above: int, lag_s: float, noise: float, room: float) -> Knee:
    """When reading + lag x slope reaches the level, by the line around that time, not `lag_s` later."""
    at_s = part.t_s[above] - lag_s
    least_s = max(CROSSING_MIN_S, 1.5 * part.interval_s)
    before_s = after_s = least_s
    for _ in range(4):
        i, j = bisect_left(part.t_s, at_s - before_s), bisect_right(part.t_s, at_s + after_s)
        i, j = max(min(i, j - 3), 0), max(j, min(i + 3, len(part)))
        around = Series(part.t_s[i:j], part.values[i:j])
        sums = _Sums(around)
        n, st, stt, *_ = sums.between(0, j - i)
        offset, slope, _ = sums.line(0, j - i)
        if slope <= 0:
            break
        to_s = sums.t0 + (level - offset) / slope - lag_s
        if not part.t_s[0] <= to_s <= part.t_s[above] + CROSSING_MAX_S:
            break
        at_s = to_s
        rest = [v - offset - slope * t for v, t in zip(around.values, sums.t, strict=True)]
        variance = variance_in_sums(rest, max(noise * noise, sum(r * r for r in rest) / max(n - 2, 1)))
        away = at_s + lag_s - sums.t0 - st / n
        u_s = sqrt(variance * (1 / n + away * away / max(stt - st * st / n, 1e-9))) / slope
        before_s = min(
            max(variance * part.interval_s / (slope * CROSSING_U_S) ** 2 / 1.5, least_s), CROSSING_MAX_S
        )
        after_s = min(before_s, max(0.7 * room / slope, 0.5 * part.interval_s))
    else:
        return Knee(at_s, u_s)
    last_s = part.t_s[max(above - 1, 0)]
    between_s = max(part.t_s[above] - last_s, part.interval_s)
    return Knee((last_s + part.t_s[above]) / 2 - lag_s, between_s / 12**0.5)
