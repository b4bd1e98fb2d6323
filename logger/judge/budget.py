"""Uncertainty budgets of what is held against limits.

Pressure and temperature over a stretch: u^2 = u_cal^2 + q^2 / 12 + s^2 / n_eff. Durations: u^2 = u_start^2
+ u_end^2, where the fitted boundaries carry their share of the sampling, and Ts^2 / 6 at least. The confirmed
drag is part of the limit, which is exact: it adds nothing here.
"""

from collections.abc import Sequence
from math import sqrt

from logger.domain.channel import Quantity
from logger.domain.judgement import PhaseSpan
from logger.domain.rig import Rig
from logger.judge.decision import Measured, combined
from logger.phases.series import Series

BLOCKS = 200
LAGS = 20
COUNTED_SHARE = 1 / 3
"""Of readings shortly after one another, as many count as independent: ripple, and what a median costs."""


def weighed_by(rig: Rig | None, quantity: Quantity, value: float, noise: float) -> Measured:
    """The value with what its channel declares and `noise`, the standard uncertainty left by averaging.

    Without a declared uncertainty the value stands bare and is compared plainly. Of two bounds-only
    contributions (a tolerance class, the step of the reading) the wider keeps its bounds, the other widens
    the normal part.
    """
    channel = rig.channel_of(quantity) if rig else None
    if channel is None or channel.standard_uncertainty is None:
        return Measured(value)
    tolerance = sqrt(3) * channel.standard_uncertainty if channel.is_tolerance else 0.0
    normal = 0.0 if channel.is_tolerance else channel.standard_uncertainty
    narrow, wide = sorted((tolerance, channel.resolution / 2))
    return Measured(value, combined(normal, narrow / sqrt(3), noise), wide)


def duration_of(span: PhaseSpan, interval_s: float) -> Measured | None:
    """Length of a phase; None where one of its boundaries was not seen."""
    seconds = span.duration_s
    if seconds is None:
        return None
    u_s = max(combined(span.start.u_s, span.end.u_s), interval_s / sqrt(6))
    return Measured(seconds, u_s, long_tailed=True)


def mean_of(values: Sequence[float]) -> tuple[float, float, float]:
    """Mean of readings taken evenly, its standard uncertainty from their scatter, and n_eff.

    n_eff counts independent readings: slow swings, such as a pump's ripple folded down by the sampling,
    leave far fewer than there are readings.
    """
    n = len(values)
    mean = sum(values) / n
    if n < 4:
        return mean, 0.0, float(n)
    around = _without_trend(values, mean)
    variance = sum(x * x for x in around) / (n - 2)
    if variance <= 1e-24 * max(1.0, mean * mean):
        return mean, 0.0, float(n)
    blocks = _block_means(around, BLOCKS)
    u = max(_u_of_mean(blocks), sqrt(variance / n))
    return mean, u, max(1.0, variance / (u * u))


def level_noise(series: Series, span_s: float) -> float:
    """Standard deviation that noise and ripple leave in a mean over `span_s` of these readings.

    Swings slower than the span are pressure, not noise.
    """
    count = max(1.0, span_s / series.interval_s) if series.interval_s > 0 else 1.0
    white = series.noise / sqrt(max(1.0, COUNTED_SHARE * count))
    blocks = _block_means(series.values, max(1, round(len(series) / max(1.0, count / 10))))
    if len(blocks) < 20:
        return white
    means = [sum(blocks[k : k + 10]) / 10 for k in range(len(blocks) - 9)]
    quick = [x - mean for x, mean in zip(blocks[5:], means, strict=False)]
    return max(white, _u_of_mean(quick) * sqrt(len(quick) / 10))


def _without_trend(values: Sequence[float], mean: float) -> list[float]:
    """Residuals about the straight line: a leak-down is no scatter."""
    n = len(values)
    middle = (n - 1) / 2
    slope = sum((k - middle) * x for k, x in enumerate(values)) / (n * (n * n - 1) / 12)
    return [x - mean - slope * (k - middle) for k, x in enumerate(values)]


def _block_means(values: Sequence[float], most: int) -> list[float]:
    size = max(1, -(-len(values) // most))
    return [sum(values[k : k + size]) / size for k in range(0, len(values) - size + 1, size)]


def _u_of_mean(blocks: Sequence[float]) -> float:
    """Standard uncertainty of the mean of correlated values: positive autocorrelations add up."""
    n = len(blocks)
    mean = sum(blocks) / n
    around = [x - mean for x in blocks]
    total = sum(x * x for x in around)
    if n < 2 or total == 0.0:
        return 0.0
    factor = 1.0
    for lag in range(1, min(LAGS, n // 4) + 1):
        rho = sum(a * b for a, b in zip(around, around[lag:], strict=False)) / total
        if rho < 2 / sqrt(n):
            break
        factor += 2 * rho
    return sqrt(total / (n - 1) / n * factor)
