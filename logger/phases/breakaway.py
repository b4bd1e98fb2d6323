"""A carriage that stuck and broke loose before the faces met: pressure that passed for pressing.

It may take more to break loose than to join, so that the peak looks like the rise. What follows the fall is
the rise that was meant; where the faces met without much of a stroke, they met as the pressure fell.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from logger.phases.series import Series, smoothed
from logger.phases.view import View

WITHIN_S = 9.0
HELD_S = 3.5
LET_DOWN_S = 3.0
BEFORE_S = 4.0
SMOOTH_S = 0.2
FALL_SHARE = 0.07
SIGMAS = 6.0
RIPPLES = 1.5
BACK_SHARE = 0.5
HELD_SHARE = 0.8
"""A fall that stays above this share of the step is ripple, or a hand's, on pressure that is held, ..."""
HIGHER_SHARE = 0.1
"""... unless it began so much higher than what is held then."""


@dataclass(frozen=True)
class Slip:
    """From the peak to the lowest reading after it; `back_s` when as much had been gained again."""

    peak_s: float
    low_s: float
    back_s: float
    low_bar: float
    peak_bar: float

    @property
    def middle_s(self) -> float:
        return (self.peak_s + self.low_s) / 2

    @property
    def u_s(self) -> float:
        return (self.low_s - self.peak_s) / sqrt(12)


def slip_of(view: View, rise_s: float, until_s: float = inf) -> Slip | None:
    """The last fall and new rise around `rise_s`, where pressing was taken to begin; None without one.

    Pressing ends at `until_s`: what falls then is let down.
    """
    last_s = until_s - LET_DOWN_S
    part = view.pressure.window(rise_s - BEFORE_S, min(rise_s + WITHIN_S, last_s))
    if len(part) < 5:
        return None
    smooth = smoothed(part, SMOOTH_S)
    n = max(SMOOTH_S / part.interval_s, 1.0) if part.interval_s > 0 else 1.0
    held = smoothed(
        view.pressure.window(rise_s + WITHIN_S, min(rise_s + WITHIN_S + HELD_S, last_s)), SMOOTH_S
    )
    least_bar = max(
        FALL_SHARE * view.levels.step_bar, SIGMAS * view.noise / sqrt(n), RIPPLES * _deepest(held.values)
    )
    levels = view.levels
    held_bar, high_bar = (
        levels.base_bar + HELD_SHARE * levels.step_bar,
        levels.top_bar + HIGHER_SHARE * levels.step_bar,
    )
    found = None
    begin = 0
    while (slip := _next(smooth, begin, least_bar, view.levels.top_bar)) is not None:
        found = slip if slip.low_bar < held_bar or slip.peak_bar > high_bar else found
        begin = next(k for k, t_s in enumerate(smooth.t_s) if t_s >= slip.back_s)
    return found


def _deepest(values: Sequence[float]) -> float:
    """The deepest fall within these values: ripple falls as deep while the pressure is held."""
    peak, deepest = float("-inf"), 0.0
    for value in values:
        peak = max(peak, value)
        deepest = max(deepest, peak - value)
    return deepest


def _next(smooth: Series, begin: int, least_bar: float, top_bar: float) -> Slip | None:
    """The first fall by `least_bar` or more with half of it gained again, as far as joining pressure."""
    t, v = smooth.t_s, smooth.values
    peak = low = begin
    for k in range(begin, len(v)):
        back_bar = max(least_bar, BACK_SHARE * (min(v[peak], top_bar) - v[low]))
        if v[peak] - v[low] >= least_bar and v[k] - v[low] >= back_bar:
            return Slip(t[peak], t[low], t[k], v[low], v[peak])
        if v[k] > v[peak] and v[peak] - v[low] < least_bar:
            peak = low = k
        elif v[k] < v[low]:
            low = k
    return None
