"""Hydraulic lag read off pressure that was held cold and let go, when a rig is commissioned.

It is the lag that every joint tells by the tails of its falls, with nothing known beforehand. A valve that
opens more slowly reads as lag, so the figure is an upper one; the joints tell theirs anew.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, sqrt

from logger.domain.sample import Sample
from logger.phases.lag import lag_of
from logger.phases.series import Series, trace_of

LEAST_HELD_S = 3.0
LEAST_FALL_BAR = 5.0
SEEN_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseLag:
    """The lag of a ramp and its standard uncertainty, from so many releases."""

    lag_s: float
    u_s: float
    releases: int


def release_lag(samples: list[Sample]) -> ReleaseLag | None:
    """Return what the releases show together, None where there was none.

    A release is a fall of LEAST_FALL_BAR or more from a pressure that was held for LEAST_HELD_S or more,
    seen to its end without a gap.
    """
    series = trace_of(samples).pressure
    falls_s = list(_falls(series))
    if not falls_s:
        return None
    lag = lag_of(series, falls_s, series.noise)
    # How old a device's value is when it is asked for is not known, and the same for all releases alike.
    u_s = hypot(lag.u_s, series.interval_s / sqrt(12))
    return ReleaseLag(lag_s=lag.mean_s, u_s=u_s, releases=len(falls_s))


def _falls(series: Series) -> Iterator[float]:
    """Yield when each held pressure falls through the middle of the whole range."""
    if len(series) < 20:
        return
    ordered = sorted(series.values)
    low, top = ordered[len(ordered) // 20], ordered[-1 - len(ordered) // 50]
    if top - low < LEAST_FALL_BAR:
        return
    middle, since_s = (low + top) / 2, None
    for t_s, value in zip(series.t_s, series.values, strict=True):
        if value > middle:
            since_s = t_s if since_s is None else since_s
        elif since_s is not None:
            held = t_s - since_s >= LEAST_HELD_S
            seen = series.t_s[-1] - t_s >= SEEN_S and not series.window(since_s, t_s + SEEN_S).gaps
            if held and seen:
                yield t_s
            since_s = None
