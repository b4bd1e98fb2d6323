"""What the detector is compared with: plain thresholds, and a public change-point library.

Both see the same pressure readings. The thresholds know the plan. The library knows the noise and is credited
with its nearest change point to each true boundary, so its figures are better than it could use.
"""

from collections.abc import Sequence
from importlib import import_module
from itertools import pairwise
from math import log
from typing import Any

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from tests.bench.truth import BOUNDARIES

SMOOTHING_S = 0.3
DWELL_S = 3.0
DEPARTURE_SHARE = 0.1
"""A level is left once the smoothed pressure is off by this share of the joining step."""

Times = Sequence[float]
Found = dict[str, float | None]


def by_thresholds(t_s: Times, bars: Sequence[float], plan: JointPlan) -> Found:
    """Boundaries where a running mean crosses fixed levels, pressed and low told apart with hysteresis."""
    nothing: Found = dict.fromkeys(BOUNDARIES)
    band = plan.step_of(Phase.COOLING).gauge_pressure_bar
    drag_bar, joining_bar, entered_bar = plan.drag_pressure_bar or 0.0, band.target or 0.0, band.min or 0.0
    step_bar = joining_bar - drag_bar
    smooth = _running_mean(bars, max(1, round(SMOOTHING_S * (len(t_s) - 1) / (t_s[-1] - t_s[0]))))
    runs = _pressed(t_s, smooth, drag_bar + 0.5 * step_bar, drag_bar + 0.4 * step_bar)
    if len(runs) < 2:
        return nothing
    (bead_from, bead_to), (cool_from, cool_to) = runs[-2:]
    foot_bar, shoulder_bar = drag_bar + DEPARTURE_SHARE * step_bar, joining_bar - DEPARTURE_SHARE * step_bar
    soak = sorted(smooth[bead_to:cool_from])
    soak_bar = soak[len(soak) // 2] if soak else 0.0

    def last(indices: range, below_bar: float) -> float | None:
        return next((t_s[k] for k in reversed(indices) if smooth[k] <= below_bar), None)

    left = [k for k in range(bead_to, cool_from) if abs(smooth[k] - soak_bar) <= DEPARTURE_SHARE * step_bar]
    return {
        "bead_up.start": last(range(bead_from), foot_bar),
        "heat_soak.start": _last_above(t_s, smooth, (bead_from, bead_to), shoulder_bar),
        "changeover.start": _end_of_longest(t_s, left),
        "pressure_build_up.start": last(range(bead_to, cool_from), foot_bar),
        "cooling.start": next((t_s[k] for k in range(cool_from, cool_to) if smooth[k] >= entered_bar), None),
        "cooling.end": _last_above(t_s, smooth, (cool_from, cool_to), shoulder_bar),
    }


def durations_called(found: Found, plan: JointPlan) -> frozenset[str]:
    """Codes of the durations that lie outside the plan by these boundaries, compared plainly."""

    def lasts_s(start: str, end: str) -> float | None:
        start_s, end_s = found[start], found[end]
        return None if start_s is None or end_s is None else end_s - start_s

    cooling_s = sum(step.duration_s.min or 0.0 for step in plan.steps_of(Phase.COOLING))
    soak_s = lasts_s("heat_soak.start", "changeover.start")
    open_s = lasts_s("changeover.start", "pressure_build_up.start")
    rise_s = lasts_s("pressure_build_up.start", "cooling.start")
    cooled_s = lasts_s("cooling.start", "cooling.end")
    longest = {phase: plan.step_of(phase).duration_s.max for phase in Phase}
    open_max_s, rise_max_s = longest[Phase.CHANGEOVER], longest[Phase.PRESSURE_BUILD_UP]
    outside = {
        "heat_soak.duration.short": soak_s is not None
        and soak_s < (plan.step_of(Phase.HEAT_SOAK).duration_s.min or 0.0),
        "changeover.duration.long": None not in (open_s, open_max_s) and open_s > open_max_s,
        "pressure_build_up.duration.long": None not in (rise_s, rise_max_s) and rise_s > rise_max_s,
        "cooling.duration.short": cooled_s is not None and cooled_s < cooling_s,
    }
    return frozenset(code for code, is_outside in outside.items() if is_outside)


def _running_mean(values: Sequence[float], width: int) -> list[float]:
    sums = [0.0]
    for value in values:
        sums.append(sums[-1] + value)
    half = width // 2
    spans = [(max(0, k - half), min(len(values), k + half + 1)) for k in range(len(values))]
    return [(sums[b] - sums[a]) / (b - a) for a, b in spans]


def _pressed(
    t_s: Times, smooth: Sequence[float], enter_bar: float, leave_bar: float
) -> list[tuple[int, int]]:
    """Index ranges in which the pressure counts as high for at least `DWELL_S`."""
    runs, begin = [], -1
    for k, bar in enumerate(smooth):
        if begin < 0 and bar > enter_bar:
            begin = k
        elif begin >= 0 and (bar < leave_bar or k == len(smooth) - 1):
            if t_s[k] - t_s[begin] >= DWELL_S:
                runs.append((begin, k))
            begin = -1
    return runs


def _last_above(t_s: Times, smooth: Sequence[float], run: tuple[int, int], bar: float) -> float | None:
    return next((t_s[k] for k in reversed(range(*run)) if smooth[k] >= bar), None)


def _end_of_longest(t_s: Times, indices: list[int]) -> float | None:
    """Time at the end of the longest unbroken stretch of indices."""
    if not indices:
        return None
    cuts = [0, *(n + 1 for n, (a, b) in enumerate(pairwise(indices)) if b != a + 1), len(indices)]
    _, end = max(pairwise(cuts), key=lambda cut: cut[1] - cut[0])
    return t_s[indices[end - 1]]


def by_ruptures(
    t_s: Times, bars: Sequence[float], noise_bar: float, truth: dict[str, float]
) -> tuple[Found, int]:
    """Nearest change point to each boundary, and how many were found in all.

    `ruptures.KernelCPD` with the linear kernel, penalty 3 sigma^2 log n. Raises ImportError where the library
    is not installed: it is no dependency of Beadwatch.
    """
    numpy, ruptures = import_module("numpy"), import_module("ruptures")

    signal: Any = numpy.asarray(bars, dtype=float).reshape(-1, 1)
    algorithm = ruptures.KernelCPD(kernel="linear", min_size=2).fit(signal)
    cuts = algorithm.predict(pen=3.0 * noise_bar**2 * log(len(bars)))[:-1]
    # A cut lies between the last reading of one level and the first of the next.
    times = [(t_s[k - 1] + t_s[k]) / 2 for k in cuts]
    nearest = {name: min(times, key=lambda t: abs(t - at), default=None) for name, at in truth.items()}
    return nearest, len(times)
