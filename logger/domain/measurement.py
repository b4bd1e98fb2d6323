"""What a channel showed while it was watched: rate, noise, ripple, steps. Pure.

Noise is what changes from one sample to the next, ripple what the curve is off its straight trend.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

VISIBLE_SIGMAS = 3.6
"""An edge of so many standard deviations is placed within two samples 999 times in 1000 (computed)."""
_NORMAL_MAD = 1.4826
_LEAST_SAMPLES = 8
_TAIL = 0.025


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalMeasure:
    """One channel in its own unit; None where there were too few samples to say."""

    samples: int
    rate_hz: float | None = None
    longest_gap_s: float | None = None
    mean: float | None = None
    noise: float | None = None
    """Standard deviation from sample to sample."""
    ripple: float | None = None
    """From the lowest to the highest but for 2.5 % at either end, about the trend."""
    step: float | None = None
    """The smallest change that was seen; None where nothing changed."""

    def effective_resolution(self, resolution: float) -> float | None:
        """Return the smallest edge that shows: out of the noise, out of the ripple, or one step."""
        if self.noise is None or self.ripple is None:
            return None
        return max(VISIBLE_SIGMAS * self.noise, self.ripple, self.step or 0.0, resolution)

    @property
    def spread(self) -> float | None:
        """Return the standard deviation of one reading, the ripple taken as the swing of a sine."""
        if self.noise is None or self.ripple is None:
            return None
        return max(self.noise, self.ripple / math.sqrt(8))


def measure_of(t_s: Sequence[float], values: Sequence[float]) -> SignalMeasure:
    """Measure a channel from its samples in their order; a value that is no number is left out."""
    pairs = [(t, v) for t, v in zip(t_s, values, strict=True) if math.isfinite(v)]
    if len(pairs) < _LEAST_SAMPLES:
        return SignalMeasure(samples=len(pairs))
    times, kept = [t for t, _ in pairs], [v for _, v in pairs]
    intervals = [b - a for a, b in pairwise(times)]
    changes = [b - a for a, b in pairwise(kept)]
    steps = [abs(change) for change in changes if change]
    rest = sorted(_without_trend(times, kept))
    tail = int(_TAIL * len(rest))
    return SignalMeasure(
        samples=len(pairs),
        rate_hz=len(intervals) / (times[-1] - times[0]),
        longest_gap_s=max(intervals),
        mean=fmean(kept),
        noise=_noise(changes),
        ripple=rest[-1 - tail] - rest[tail],
        step=min(steps, default=None),
    )


def _noise(changes: Sequence[float]) -> float:
    """Return the standard deviation of one sample; where most changes are zero, from their squares."""
    middle = median(changes)
    robust = _NORMAL_MAD * median(abs(change - middle) for change in changes) / math.sqrt(2)
    return robust or math.sqrt(fmean([change * change for change in changes]) / 2)


def _without_trend(t_s: Sequence[float], values: Sequence[float]) -> list[float]:
    mean_t, mean_v = fmean(t_s), fmean(values)
    spread = sum((t - mean_t) ** 2 for t in t_s)
    slope = sum((t - mean_t) * (v - mean_v) for t, v in zip(t_s, values, strict=True)) / spread
    return [v - mean_v - slope * (t - mean_t) for t, v in zip(t_s, values, strict=True)]
