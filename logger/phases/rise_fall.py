"""Where a rise or a fall of the pressure begins: first roughly, on smoothed readings, then by the onset fit.

The rough step only has to bracket the onset, widely: everything inside the bracket is weighed by the fit, so
a second place that fits as well shows as a wide uncertainty.
"""

from bisect import bisect_right
from math import inf, sqrt
from statistics import median

from logger.phases.edges import Knee
from logger.phases.lag import Lag
from logger.phases.onset import Before, fit_onset
from logger.phases.series import Series, smoothed
from logger.phases.view import View

BEFORE_S = 20.0
RAMP_S = 30.0
AFTER_S = 6.0
SMOOTH_S = 0.4
FLAT_S = 1.0
FLAT_SHARE = 0.04
"""A pressure that changes by less than this share of the step within `FLAT_S` is not yet falling."""
FALL_SHARE = 0.6
FOOT_S = 4.0
LONGEST_UNSEEN_S = 2.0
RAMP_FROM = 0.25
STROKE_SHARE = 0.85
NOISES_UP = 14.0
BREAKAWAY_S = 3.0
DRAG_U_SHARE = 0.1
DRAG_U_STEP = 0.03
HEADS = ((0.0, 0.65), (0.08, 0.2), (0.2, 0.15))
"""By how long the rise is ahead where faces meet at speed, with what is believed of it beforehand."""
ROUNDING_SHARE = 0.14
"""The lag is read off falls; a snubber may slow rises more: how exactly their corner is known, a choice."""


def fall_start(view: View, coarse_s: float, lag: Lag) -> Knee | None:
    """Onset of the fall that passes through its middle at `coarse_s`."""
    part = view.pressure.window(coarse_s - BEFORE_S, coarse_s + AFTER_S)
    if len(part) < 5:
        return None
    smooth = smoothed(part, SMOOTH_S)
    flat = _walk_back(smooth, coarse_s, view)
    top_bar = median(part.values[max(0, flat - _readings(part, 2.0)) : flat + 1])
    k = bisect_right(part.t_s, coarse_s)
    low_bar = min(smooth.values[k - 1 :])
    share_bar = top_bar - FALL_SHARE * (top_bar - low_bar)
    end = next((i for i in range(flat, len(part)) if smooth.values[i] < share_bar), len(part) - 1)
    from_s = part.t_s[flat] - max(0.5, part.interval_s) - _unseen_s(smooth, flat, view)
    near = (from_s, max(part.t_s[end], from_s + 2.5 * part.interval_s))
    inside = part.window(
        max(part.t_s[0], from_s - FOOT_S), max(part.t_s[end], from_s + 3.5 * part.interval_s)
    )
    return _fitted(inside, near, view, Before(view.drift_bar_per_s), lag)


def _readings(series: Series, span_s: float) -> int:
    return max(1, round(span_s / series.interval_s)) if series.interval_s > 0 else 1


def _unseen_s(smooth: Series, flat: int, view: View) -> float:
    """How long a fall this slow may have gone on before it was told from standing at `flat`."""
    after = min(flat + _readings(smooth, FLAT_S), len(smooth) - 1)
    fallen_bar = smooth.values[flat] - smooth.values[after]
    lasted_s = smooth.t_s[after] - smooth.t_s[flat]
    if fallen_bar * LONGEST_UNSEEN_S <= _least_fall_bar(view) * lasted_s:
        return LONGEST_UNSEEN_S
    return _least_fall_bar(view) * lasted_s / fallen_bar


def _least_fall_bar(view: View) -> float:
    noise = view.noise / sqrt(_readings(view.pressure, SMOOTH_S))
    return max(3.5 * noise, FLAT_SHARE * view.levels.step_bar)


def _walk_back(smooth: Series, coarse_s: float, view: View) -> int:
    """Index of the last reading before the fall through `coarse_s` at which the pressure stood."""
    reach = _readings(smooth, FLAT_S)
    least = _least_fall_bar(view)
    k = max(bisect_right(smooth.t_s, coarse_s) - 1, 0)
    while k > 0:
        before = smooth.values[max(0, k - reach) : k]
        if max(before) - smooth.values[k] < least:
            return k
        k -= 1
    return 0


def rise_start(view: View, coarse_s: float, lag: Lag, not_before_s: float = -inf) -> Knee | None:
    """First departure above travel drag, `not_before_s`, of the rise through its middle at `coarse_s`."""
    part = view.pressure.window(coarse_s - RAMP_S, coarse_s + AFTER_S)
    if len(part) < 5:
        return None
    smooth = smoothed(part, SMOOTH_S)
    noise = view.noise / sqrt(_readings(smooth, SMOOTH_S))
    drag_bar = view.hints.drag_bar
    if drag_bar is None:
        drag_bar = _plateau(smooth, coarse_s, view)
    step_bar = view.levels.top_bar - drag_bar
    k = max(bisect_right(part.t_s, coarse_s) - 1, 0)
    ramp_bar = drag_bar + max(RAMP_FROM * step_bar, 4 * noise)
    # A breakaway peak may pass for the rise itself: what falls back to drag soon after was not it.
    back = bisect_right(part.t_s, coarse_s + BREAKAWAY_S) - 1
    foot = next((i for i in range(max(back, k), -1, -1) if smooth.values[i] <= ramp_bar), 0)
    stroke_seen = drag_bar > 6 * noise
    stroke = -1
    if stroke_seen:
        stroke = next((i for i in range(foot, -1, -1) if smooth.values[i] < STROKE_SHARE * drag_bar), -1)
        peak_bar = ramp_bar + 4 * noise + 0.05 * step_bar
        stroke = next((i for i in range(foot, stroke, -1) if smooth.values[i] > peak_bar), stroke)
        stroke_seen = stroke >= 0
    # A stroke that runs right into the rise leaves no reading at drag: the onset is beside its last one.
    begin = min(max(stroke + 1, bisect_right(part.t_s, not_before_s)), foot)
    from_s = part.t_s[begin] if stroke_seen else part.t_s[foot] - FOOT_S
    near = (from_s, part.t_s[min(foot + 1, len(part) - 1)])
    share = min(0.6, max(0.25, NOISES_UP * view.noise / step_bar)) if step_bar > 0 else 0.6
    up_bar = drag_bar + max(share * step_bar, 4 * noise)
    end = next((i for i in range(foot, len(part)) if smooth.values[i] > up_bar), len(part) - 1)
    inside = part.window(from_s, max(part.t_s[end], near[1] + 1.5 * part.interval_s))
    level_u = DRAG_U_SHARE * drag_bar + DRAG_U_STEP * step_bar
    before = Before(
        view.drift_bar_per_s,
        settling=stroke_seen,
        level=drag_bar,
        level_u=level_u,
        heads=HEADS,
        rounding_share=ROUNDING_SHARE,
    )
    return _fitted(inside, near, view, before, lag)


def ramp_end(view: View, coarse_s: float, from_s: float, lag: Lag) -> Knee | None:
    """Knee that ends the rise through `coarse_s`, begun at `from_s`, where the pressure settles."""
    part = view.pressure.window(from_s, coarse_s + RAMP_S)
    if len(part) < 5:
        return None
    smooth = smoothed(part, SMOOTH_S)
    reach = _readings(smooth, FLAT_S)
    least = _least_fall_bar(view)
    k = bisect_right(part.t_s, coarse_s)
    while (
        k < len(part) - 1
        and max(smooth.values[k + 1 : k + 1 + reach], default=0.0) - smooth.values[k] >= least
    ):
        k += 1
    k = min(k, len(part) - 1)
    near = (part.t_s[k] - 1.5, part.t_s[k] + max(0.5, part.interval_s))
    inside = part.window(max(from_s, near[0] - FOOT_S), near[1] + FOOT_S / 2)
    return _fitted(inside, near, view, Before(view.levels.step_bar), lag)


def _plateau(smooth: Series, coarse_s: float, view: View) -> float:
    """Level at which the pressure last stood before the rise through `coarse_s`: travel drag."""
    mirrored = Series(smooth.t_s, tuple(-bar for bar in smooth.values))
    k = _walk_back(mirrored, coarse_s, view)
    return median(smooth.values[max(0, k - _readings(smooth, FLAT_S / 2)) : k + 1])


def _fitted(inside: Series, near: tuple[float, float], view: View, before: Before, lag: Lag) -> Knee | None:
    """The fitted onset; with too few readings for a fit, somewhere in the bracket."""
    knee = fit_onset(inside, near, view.noise, before, lag)
    if knee is not None:
        return knee
    return Knee((near[0] + near[1]) / 2, max(near[1] - near[0], view.pressure.interval_s) / 12**0.5)
