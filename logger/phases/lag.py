"""How late this trace's gauge shows a change: read from the tails of its own falls.

When a valve opens to tank, the pressure at the cylinder is gone at once; what the gauge shows after that is
the transmitter's lag: hose, cold oil, snubber. Several falls are weighed together, each as "this tail is the
lag, or something slower": a let-down by hand says no more than that the lag is not longer.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, hypot, sqrt
from statistics import median

from logger.domain.rig import HydraulicLag
from logger.phases.series import Series

STEP = 1.19
TAU_S: tuple[float, ...] = tuple(0.02 * STEP**k for k in range(26))
TYPICAL_S = 0.3
TAIL_FROM = 0.35
"""Share of a fall from which on its tail is looked at."""
TAIL_S = 4.0
REBOUND = 0.05
LAG_SHARE = 0.5
"""How likely a tail is the lag itself, beforehand."""
LEAST_SIGMAS = 8.0


@dataclass(frozen=True)
class Lag:
    """First-order lag of the transmitter: weights of `TAU_S`, summing to 1."""

    weights: tuple[float, ...]

    @property
    def mean_s(self) -> float:
        return sum(t * w for t, w in zip(TAU_S, self.weights, strict=True))

    @property
    def u_s(self) -> float:
        mean_s = self.mean_s
        return sqrt(sum(w * (t - mean_s) ** 2 for t, w in zip(TAU_S, self.weights, strict=True)))

    def quantiles(self, shares: Sequence[float]) -> list[float]:
        """Lags under which these shares of the weight lie."""
        found = []
        for share in shares:
            below = 0.0
            for k, weight in enumerate(self.weights):
                if below + weight >= share or k == len(TAU_S) - 1:
                    inside = min(max((share - below) / weight, 0.0), 1.0) if weight > 0 else 0.5
                    found.append(TAU_S[k] * STEP ** (inside - 0.5))
                    break
                below += weight
        return found


def _normed(weights: Sequence[float]) -> tuple[float, ...]:
    total = sum(weights)
    return tuple(w / total for w in weights)


ANY_LAG = Lag(_normed([exp(-t / TYPICAL_S) * t for t in TAU_S]))


SLOWER_S = 0.2
UNLIKE = 1e-6
HIDDEN = 0.15
ROUNDED = 4.0
SINCE_SHARE = 0.4
_SLOWER = tuple(_normed([t * exp(-(t - tau) / SLOWER_S) for t in TAU_S[k:]]) for k, tau in enumerate(TAU_S))


def lag_of(
    series: Series, falls_s: Iterable[float], noise: float, commissioned: HydraulicLag | None = None
) -> Lag:
    """Weigh the tails of the falls that pass their middle at `falls_s`, beginning at the commissioned value.

    A lag measured when the sensors were fitted may have changed with the oil's temperature or a hose: half of
    what is believed beforehand stays open to any lag.
    """
    tails = [_tail(series.window(fall_s - 6.0, fall_s + TAIL_S + 2.0), fall_s, noise) for fall_s in falls_s]
    beforehand = ANY_LAG if commissioned is None else _beforehand(commissioned)
    some_show, none_shows = list(beforehand.weights), list(beforehand.weights)
    for tail in tails:
        if tail is None:
            continue
        told, rounded = tail
        shows = LAG_SHARE if rounded else 0.0
        for k, slower in enumerate(_SLOWER):
            hidden = sum(w * x for w, x in zip(slower, told[k:], strict=True))
            some_show[k] *= shows * told[k] + (1 - shows) * hidden + UNLIKE
            none_shows[k] *= hidden + UNLIKE
        some_show, none_shows = list(_normed(some_show)), list(_normed(none_shows))
    weights = [(1 - HIDDEN) * a + HIDDEN * b for a, b in zip(some_show, none_shows, strict=True)]
    return Lag(_normed(weights))


def _beforehand(commissioned: HydraulicLag) -> Lag:
    u_s = hypot(commissioned.u_s, SINCE_SHARE * commissioned.lag_s)
    near = _normed([t * exp(-(((t - commissioned.lag_s) / u_s) ** 2) / 2) + UNLIKE for t in TAU_S])
    return Lag(tuple((a + b) / 2 for a, b in zip(near, ANY_LAG.weights, strict=True)))


def _tail(part: Series, fall_s: float, noise: float) -> tuple[tuple[float, ...], bool] | None:
    """Weights of `TAU_S` by one fall: level + amplitude x exp(-t / tau) over its tail; whether that fits."""
    before = part.window(fall_s - 6.0, fall_s - 2.0).values
    if len(before) < 2:
        return None
    top = median(before)
    j = bisect_left(part.t_s, fall_s)
    width = max(1, round(0.3 / part.interval_s)) if part.interval_s > 0 else 1
    smooth = [sum(part.values[k : k + width]) / width for k in range(j, len(part) - width + 1)]
    if not smooth:
        return None
    bottom = min(smooth)
    low = smooth.index(bottom)
    rise = bottom + max(5 * noise / width**0.5, REBOUND * (top - bottom))
    stop = next((k for k in range(low, len(smooth)) if smooth[k] > rise), len(smooth))
    j += stop
    if top - bottom < LEAST_SIGMAS * noise:
        return None
    limit = bottom + TAIL_FROM * (top - bottom)
    i = bisect_left(part.t_s, fall_s - 2.0)
    while i < j and part.values[i] > limit:
        i += 1
    t = [x - part.t_s[i] for x in part.t_s[i:j] if x - part.t_s[i] <= TAIL_S] if i < j else []
    v = [x - bottom for x in part.values[i : i + len(t)]]
    n = len(t)
    if n < 5:
        return None
    rss = []
    sv, svv = sum(v), sum(x * x for x in v)
    for tau in TAU_S:
        e = [exp(-x / tau) for x in t]
        se, see, sev = sum(e), sum(x * x for x in e), sum(a * b for a, b in zip(e, v, strict=True))
        det = n * see - se * se
        a = (n * sev - se * sv) / det if det > 1e-9 else 0.0
        c = (sv - a * se) / n
        rss.append(svv - a * sev - c * sv if a > 0 else svv - sv * sv / n)
    best = min(rss)
    variance = max(noise * noise, best / max(n - 3, 1), 1e-12)
    rounded = best < (n - 3) * ROUNDED * noise * noise
    return _normed([exp((best - r) / (2 * variance)) for r in rss]), rounded
