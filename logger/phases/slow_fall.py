"""When a release began that took seconds: too slow for the noise to show its onset within a second.

A held level and the straight line away from it are fitted together to seconds of the curve; every place of
the knee is weighed, and the answer is their mean with their spread.
"""

from collections.abc import Sequence
from math import exp, hypot, sqrt

from logger.phases.edges import Knee, block_means
from logger.phases.runs import Run
from logger.phases.series import Series
from logger.phases.view import View

LEAST_S = 3.0
"""A faster fall is for the onset fit."""
LONGEST_S = 30.0
RATE_HZ = 2.0
CLEAR_CHI2 = 30.0
STEEPER = 3.0
SEEN_SIGMAS = 3.0
"""A fall that ends so many times as steep as its line, and clear of the noise, was none: choices."""
CURVED_SHARE = 0.03
"""A valve opened by hand lets off no straight line: by how much of its time the knee may be out, a choice."""


def slow_fall(view: View, run: Run) -> Knee | None:
    """The knee of the fall that ends at the end of `run`; None where it was not slow."""
    data = block_means(view.pressure.window(max(run.start_s, run.end_s - LONGEST_S), run.end_s), RATE_HZ)
    n = len(data)
    if n < 8:
        return None
    t = [t_s - run.end_s for t_s in data.t_s]
    knees_s = t[1:-2]
    rss = [_hinge(t, data.values, knee_s) for knee_s in knees_s]
    best = min(rss)
    noise = view.noise * sqrt(min(view.pressure.interval_s * RATE_HZ, 1.0))
    variance = max(noise * noise, best / max(n - 3, 1), 1e-12)
    weights = [exp((best - r) / (2 * variance)) for r in rss]
    total = sum(weights)
    mean_s = sum(w * knee_s for w, knee_s in zip(weights, knees_s, strict=True)) / total
    square = sum(w * (knee_s - mean_s) ** 2 for w, knee_s in zip(weights, knees_s, strict=True)) / total
    spread_s = sqrt(square)
    clear = _hinge(t, data.values, t[-1]) - best > CLEAR_CHI2 * variance
    if not clear or mean_s + spread_s > -LEAST_S:
        return None
    if min(_two_levels(data.values[:-2]), _two_levels(data.values)) < best or _steepens(
        view, run, data, mean_s
    ):
        return None
    return Knee(run.end_s + mean_s, hypot(spread_s, CURVED_SHARE * mean_s, data.interval_s / sqrt(12)))


def _steepens(view: View, run: Run, data: Series, knee_s: float) -> bool:
    """Whether the pressure sagged and was let off only then: the fall ends far steeper than its line."""
    before, after = (view.pressure.mean_between(run.end_s + a, run.end_s + a + 1.0) for a in (-1.5, 0.0))
    held = data.mean_between(data.t_s[0], run.end_s + knee_s)
    if before is None or after is None or held is None:
        return False
    per_s = (held - data.values[-1]) / -knee_s
    return before - after > 1.5 * STEEPER * max(per_s, 0.0) + SEEN_SIGMAS * view.noise


def _two_levels(v: Sequence[float]) -> float:
    """Residual sum of squares where the pressure was lost and then held: no slow release."""
    return min(_about_mean(v[:k]) + _about_mean(v[k:]) for k in range(2, len(v) - 1))


def _about_mean(v: Sequence[float]) -> float:
    middle = sum(v) / len(v)
    return sum((x - middle) ** 2 for x in v)


def _hinge(t: Sequence[float], v: Sequence[float], knee: float) -> float:
    """Residual sum of squares about a level up to `knee` and a straight line away from it after that."""
    x = [max(at - knee, 0.0) for at in t]
    n, sx, sxx = len(t), sum(x), sum(a * a for a in x)
    sv, svv, sxv = sum(v), sum(b * b for b in v), sum(a * b for a, b in zip(x, v, strict=True))
    spread = n * sxx - sx * sx
    slope = (n * sxv - sx * sv) / spread if spread > 0 else 0.0
    return max(svv - (sv * sv) / n - slope * (sxv - sx * sv / n), 0.0)
