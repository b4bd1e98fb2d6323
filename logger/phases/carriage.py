"""When the carriage leaves its rest and when it comes to rest: where the faces part and touch."""

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

from logger.domain.judgement import Boundary
from logger.phases.edges import Knee
from logger.phases.series import Series

LEAST_NOISE_MM = 0.02
LEAST_U_S = 0.015
REST_MM_PER_S = 1.0
"""Slower than this a closed joint yields: bead and melt give way."""
SPEED_OVER_S = 0.25
OPENED_MM = 3.0
MET_MM = 0.5
"""So near the place at which a joint was closed in the end its faces met before: beads give way a little."""
SEARCH_S = 60.0
CREEP_SHARE = 0.15
SPEED_STEP_S = 0.1
"""Over so long a stroke is told from rest: at 50 Hz one step of a slow stroke is as small as the noise."""
SLIP_S = 0.5
SLIP_MM = 3.0
"""Faces that have met do not give way by so much in `SLIP_S`: a carriage that sticks does. A choice."""
STROKE_SHARE = 0.6
STROKE_S = 12.0
STRAIGHT_SHARE = 0.15
"""How exactly a stroke keeps its speed: share of the sampling interval left open where it is extrapolated."""


def touched(carriage: Series, coarse_s: float) -> Boundary | None:
    """When the closing stroke before `coarse_s` ended; None where the carriage does not show it.

    At `coarse_s` the faces press one another already, or a carriage that sticks is pushed on.
    """
    coarse_s = _closed_by(carriage, coarse_s)
    around = carriage.window(coarse_s - SEARCH_S, coarse_s)
    if len(around) < 8 or coarse_s - around.t_s[-1] > 2.0 + around.interval_s:
        return None
    t, x = around.t_s, around.values
    width = max(1, round(SPEED_OVER_S / around.interval_s)) if around.interval_s > 0 else 1
    first = bisect_left(t, coarse_s - STROKE_S)
    ways = [x[k] - x[k + width] if k >= first else 0.0 for k in range(len(x) - width)]
    k = width + max((k for k, way in enumerate(ways) if way > 0.5 * max(ways)), default=0)
    k = _rest_from(around, k)
    while k > 1 and x[k - 1] - x[k] < _step_mm(around, k):
        k -= 1
    if k < 2 or max(x[max(0, k - _readings(around)) : k]) - x[k] < OPENED_MM / 2:
        return None
    mirrored = Series(tuple(-s for s in reversed(t)), tuple(reversed(x)))
    knee = _leaving(mirrored, len(x) - 1 - k)
    return _unless_in_gap(carriage, Knee(-knee.at_s, knee.u_s))


def _closed_by(carriage: Series, coarse_s: float) -> float:
    """`coarse_s`, or the end of the closing that went on after it: faces that have met yield slowly."""
    part = carriage.window(coarse_s - SLIP_S, coarse_s + STROKE_S)
    t, x = part.t_s, part.values
    ahead = _readings(part, SLIP_S)
    slip_mm = max(SLIP_MM, 4 * part.noise)
    until_s, least = coarse_s, float("inf")
    for k in range(len(x) - ahead):
        least = min(least, x[k])
        if x[k] - least > OPENED_MM / 2:
            break
        if x[k] - x[k + ahead] > slip_mm:
            until_s = max(until_s, t[k + ahead])
    return until_s


def _rest_from(series: Series, k: int) -> int:
    """First reading from `k` on at which a closing stroke is over, however slow it has become."""
    t, x = series.t_s, series.values
    ahead = max(1, round(SPEED_STEP_S / series.interval_s)) if series.interval_s > 0 else 1
    last = len(x) - 1
    while k < last and x[k] - x[min(k + ahead, last)] >= _yield_mm(series, t[min(k + ahead, last)] - t[k]):
        k += 1
    rest = min(k + ahead, last)
    while k < rest and x[k] - x[rest] >= _yield_mm(series, t[rest] - t[k]) / 2:
        k += 1
    return k


def first_touched(carriage: Series, coarse_s: float) -> Boundary | None:
    """When the faces met first, before they parted a little and were closed again by `coarse_s`."""
    last = touched(carriage, coarse_s)
    if last is None or last.at_s is None:
        return last
    part = carriage.window(last.at_s - STROKE_S, last.at_s)
    closed = carriage.window(last.at_s, _closed_by(carriage, coarse_s)).values
    if len(part) < 8 or not closed:
        return last
    met_mm = min(closed) + max(MET_MM, 4 * part.noise)
    widest = max(range(len(part)), key=part.values.__getitem__)
    met = next((k for k in range(widest, len(part) - 1) if part.values[k] <= met_mm), None)
    if met is None or max(part.values[met:]) - part.values[met] < OPENED_MM / 2:
        return last
    return touched(carriage, part.t_s[met + 1]) or last


def parted(carriage: Series, from_s: float, to_s: float) -> Boundary | None:
    """When the last opening stroke between two times began; None where the carriage does not show it."""
    part = carriage.window(max(from_s, to_s - 4 * SEARCH_S), to_s)
    if len(part) < 8:
        return None
    widest = _last_open(part.values)
    rest = sorted(part.values[: max(widest // 2, 1)])[max(widest // 2, 1) // 2]
    if part.values[widest] - rest < OPENED_MM:
        return None
    k = widest
    while k > 0 and part.values[k] > rest + OPENED_MM / 2:
        k -= 1
    fastest = max(b - a for a, b in pairwise(part.values[k : widest + 1])) if k < widest else 0.0
    while k > 0 and part.values[k] - part.values[k - 1] > max(_step_mm(part, k), CREEP_SHARE * fastest):
        k -= 1
    return _unless_in_gap(carriage, _leaving(part.window(part.t_s[0], part.t_s[widest]), k))


def _last_open(x: Sequence[float]) -> int:
    """Where the carriage stood widest in its last opening: one before it, for facing again, is none of it."""
    widest = len(x) - 1
    for k in range(len(x) - 1, -1, -1):
        if x[k] >= x[widest]:
            widest = k
        elif x[widest] - x[k] > OPENED_MM and x[widest] - x[-1] > OPENED_MM:
            break
    return widest


def _readings(series: Series, span_s: float = 1.0) -> int:
    return max(2, round(span_s / series.interval_s)) if series.interval_s > 0 else 2


def _step_mm(series: Series, k: int) -> float:
    """What a resting carriage may seem to move between reading `k` - 1 and `k`."""
    return _yield_mm(series, series.t_s[k] - series.t_s[k - 1])


def _yield_mm(series: Series, span_s: float) -> float:
    """What a resting carriage may seem to move within a time."""
    return 4 * max(series.noise, LEAST_NOISE_MM) + REST_MM_PER_S * span_s


def _leaving(series: Series, k: int) -> Knee:
    """When a straight stroke left the rest that reading `k` still shows: between it and the next."""
    t, x = series.t_s, series.values
    low_s, high_s = t[k], t[min(k + 1, len(t) - 1)]
    last = k + 1
    travel = max(x[k:], default=x[k]) - x[k]
    while (
        last + 1 < len(t)
        and t[last + 1] - high_s <= SPEED_OVER_S + 1e-9
        and x[last + 1] - x[k] < STROKE_SHARE * travel
    ):
        last += 1
    if last == k + 1 and last + 1 < len(t) and x[last + 1] - x[k] < 0.9 * travel:
        last += 1
    if last > k + 1:
        speed = (x[last] - x[k + 1]) / (t[last] - t[k + 1])
        at_s = high_s - (x[k + 1] - x[k]) / speed if speed > 0 else low_s
        noise_s = max(series.noise, LEAST_NOISE_MM) / speed if speed > 0 else 1.0
        if low_s - noise_s <= at_s <= high_s + noise_s:
            return Knee(at_s, max(noise_s, STRAIGHT_SHARE * (high_s - low_s), LEAST_U_S))
    return Knee((low_s + high_s) / 2, (high_s - low_s) / 12**0.5)


def _unless_in_gap(series: Series, knee: Knee) -> Boundary:
    gap = series.gap_over(knee.at_s)
    if gap is not None:
        return Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")
    return Boundary(at_s=knee.at_s, u_s=knee.u_s)
