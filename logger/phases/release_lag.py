"""Hydraulic lag read off pressure that was held cold and let go, when a rig is commissioned.

Once the valve is open the gauge decays towards rest as its line lets it: from a quarter of the fall to a
twentieth in ln 5 time constants. A valve that opens more slowly than that reads as lag, so the figure is an
upper one; the joints tell theirs anew.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, log, sqrt
from statistics import median, stdev

from logger.domain.sample import Sample
from logger.phases.series import Series, trace_of

LEAST_HELD_S = 3.0
LEAST_FALL_BAR = 5.0
LONGEST_S = 10.0
QUARTER, TWENTIETH = 0.25, 0.05
VALVE_SHARE = 0.15
"""Standard uncertainty from the valve's own part, as a share of the lag: a choice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseLag:
    """The lag of a ramp and its standard uncertainty, from so many releases."""

    lag_s: float
    u_s: float
    releases: int


def release_lag(samples: list[Sample]) -> ReleaseLag | None:
    """Return what the releases show together, None where there was none.

    A release is a fall of LEAST_FALL_BAR or more from a pressure that was held for LEAST_HELD_S or more.
    """
    series = trace_of(samples).pressure
    lags_s = [lag_s for at_s in _falls(series) if (lag_s := _tail_s(series, at_s)) is not None]
    if not lags_s:
        return None
    mean_s = sum(lags_s) / len(lags_s)
    # Each of two crossings lies anywhere between two readings.
    of_sampling_s = sqrt(2) * series.interval_s / sqrt(12) / log(QUARTER / TWENTIETH) / sqrt(len(lags_s))
    of_spread_s = stdev(lags_s) / sqrt(len(lags_s)) if len(lags_s) > 1 else 0.0
    u_s = hypot(of_sampling_s, of_spread_s, VALVE_SHARE * mean_s)
    return ReleaseLag(lag_s=mean_s, u_s=u_s, releases=len(lags_s))


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
            if t_s - since_s >= LEAST_HELD_S:
                yield t_s
            since_s = None


def _tail_s(series: Series, at_s: float) -> float | None:
    """Return the time constant of the fall's tail, None where its end or a reading is missing."""
    rest = series.window(at_s, at_s + LONGEST_S)
    held = series.window(at_s - LEAST_HELD_S, at_s - 1.0).values
    last = [value for t_s, value in zip(rest.t_s, rest.values, strict=True) if t_s > rest.t_s[-1] - 2.0]
    if not held or len(last) < 2 or rest.gaps or rest.t_s[-1] - at_s < LEAST_HELD_S:
        return None
    low = min(median(rest.window(at_s + 1.5, at_s + 3.0).values or last), median(last))
    fall = median(held) - low
    if fall < LEAST_FALL_BAR:
        return None
    crossings = [_crossing_s(series, at_s - 1.0, low + share * fall) for share in (QUARTER, TWENTIETH)]
    first_s, second_s = crossings
    if first_s is None or second_s is None:
        return None
    return (second_s - first_s) / log(QUARTER / TWENTIETH)


def _crossing_s(series: Series, from_s: float, level_bar: float) -> float | None:
    """When the pressure falls below the level, between two readings by their straight line."""
    part = series.window(from_s, from_s + LONGEST_S)
    for k in range(1, len(part)):
        before, after = part.values[k - 1], part.values[k]
        if before > level_bar >= after:
            share = (before - level_bar) / (before - after)
            return part.t_s[k - 1] + share * (part.t_s[k] - part.t_s[k - 1])
    return None
