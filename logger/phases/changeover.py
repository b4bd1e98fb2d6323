"""When the first face leaves the plate: from the carriage where there is one, from the gauge otherwise.

A gauge shows the soak level, perhaps the pulse of the opening stroke, the level with the valve in neutral,
and the closing stroke. Every place for the first of these changes is weighed by least squares.
"""

from bisect import bisect_left
from collections.abc import Sequence
from itertools import accumulate
from math import exp, hypot, log, sqrt
from statistics import median

from logger.domain.judgement import Boundary
from logger.domain.rig import GaugeSide
from logger.phases.carriage import parted
from logger.phases.edges import Knee, block_means
from logger.phases.lag import Lag
from logger.phases.onset import Before, fit_onset
from logger.phases.opening_pulse import opening_pulse
from logger.phases.series import Series, smoothed
from logger.phases.view import View

SEARCH_S = 60.0
SETTLE_S = 2.0
SOAK_S = 8.0
STROKE_S = 10.0
PULSES_S = {
    GaugeSide.CLOSING: (0.0,),
    GaugeSide.LINE: (0.0, 0.4, 0.8, 1.4),
    GaugeSide.UNKNOWN: (0.0, 0.4, 0.8, 1.4),
}
"""How long the opening stroke may show on a gauge."""
HIDDEN_PULSE = {GaugeSide.LINE: (0.8, 0.4), GaugeSide.UNKNOWN: (0.3, 0.45)}
"""How long before the fall a stroke began that shows at soak level itself: mean and standard uncertainty."""
BRIEF_S = 0.8
AT_STOP = (1.0, 0.5)
"""The same where all that shows is relief pressure, briefly, the stroke being at its stop: a choice."""
LONGEST_PULSE_S = 1.8
PULSE_CHI2 = 16.0
PULSE_SHARE = 0.03
PULSE_WITHIN_S = 0.3
PULSE_FLANK_S = 0.6
APART_SIGMAS = 5.0
FINE_S = 0.25
SHUT_S = 0.5
GAP_MARGIN_S = 0.8
WEAK_SIGMAS = 3.0
PLACES_RATE_HZ = 5.0
TOP_UP_STEP = 2
LEAST_SOAK_S = 2.0
UNKNOWN_CHANGEOVER_S = 12.0
LEAST_CHI2 = 30.0
SAME_PLACE_S = 1.5
FLANK_LAGS = 2.0
FLANK_S = 1.2
FREE_S = 0.09
FREE_U_S = 0.06
FREE_SHARE = 0.4
FREE_U_SHARE = 0.3
ROUNDED_S = 0.4
"""Between valve and face lie oil and friction: how long a choice, so that the boundary owns up to it."""
WIDER = 1.5
"""What no fit weighs, such as a plate that sticks or a valve opened gently: so that intervals cover."""


def changeover_start(view: View, low_from_s: float, touch_s: float, lag: Lag) -> Boundary:
    """Place the start of the changeover between the let-down and the touch of the faces."""
    return parted(view.trace.carriage, low_from_s, touch_s) or _by_pressure(view, low_from_s, touch_s, lag)


class _Levels:
    """Residual sums of squares of stretches of readings about their own means."""

    def __init__(self, series: Series) -> None:
        middle = sum(series.values) / len(series)
        self.first = (0.0, *accumulate(v - middle for v in series.values))
        self.second = (0.0, *accumulate((v - middle) ** 2 for v in series.values))

    def mean(self, i: int, j: int) -> float:
        return (self.first[j] - self.first[i]) / (j - i)

    def outside(self, i: int, flank: int, from_i: int) -> float:
        """Sum of squares by which a flank leaves the way from the level before it to the level after it."""
        before, after = self.mean(max(from_i, i - flank), i), self.mean(i + flank, len(self.first) - 1)
        low, high = min(before, after), max(before, after)
        values = (self.first[k + 1] - self.first[k] for k in range(i, i + flank))
        return sum(max(v - high, low - v, 0.0) ** 2 for v in values)

    def rss(self, i: int, j: int) -> float:
        if j <= i:
            return 0.0
        total = self.first[j] - self.first[i]
        return self.second[j] - self.second[i] - total * total / (j - i)


def _by_pressure(view: View, low_from_s: float, touch_s: float, lag: Lag) -> Boundary:
    stroke_s, rise_s = _stroke(view, touch_s, lag)
    longest_s = 2.5 * (view.hints.changeover_max_s or UNKNOWN_CHANGEOVER_S)
    from_s = max(low_from_s + SETTLE_S, stroke_s - longest_s - SOAK_S)
    data = block_means(view.pressure.window(from_s, stroke_s), PLACES_RATE_HZ)
    noise = view.noise * sqrt(view.pressure.interval_s / data.interval_s) if data.interval_s > 0 else 0.0
    places = _places(data, noise, PULSES_S[view.gauge_side], lag)
    if not places:
        gap = next(
            (g for g in view.trace.pressure.gaps if g[1] > stroke_s - longest_s and g[0] < touch_s), None
        )
        return Boundary(reason="opening_not_visible") if gap is None else _in_gap(gap)
    best_s = max(places, key=lambda place: place[1])[0]
    gap = view.trace.pressure.gap_over(best_s, margin_s=GAP_MARGIN_S)
    if gap is not None:
        return _in_gap(gap)
    before, after = (
        view.pressure.mean_between(best_s - 3.0, best_s - 0.5),
        view.pressure.mean_between(stroke_s - 1.0, stroke_s),
    )
    weak = before is None or after is None or abs(before - after) < WEAK_SIGMAS * view.noise
    total = sum(weight for _, weight in places)
    mean_s = sum(at_s * weight for at_s, weight in places) / total
    spread_s = sqrt(sum(weight * (at_s - mean_s) ** 2 for at_s, weight in places) / total)
    free_s, free_u_s = FREE_S + FREE_SHARE * rise_s, hypot(FREE_U_S, FREE_U_SHARE * rise_s)
    if spread_s > SAME_PLACE_S:
        return Boundary(at_s=mean_s - lag.mean_s + free_s, u_s=hypot(spread_s, lag.mean_s, free_u_s))
    knee = _departure(view, best_s, stroke_s, lag)
    if knee is None:
        return Boundary(reason="edge_not_clear")
    u_s = hypot(knee.u_s, free_u_s, spread_s if weak else 0.0)
    return Boundary(at_s=knee.at_s + free_s, u_s=WIDER * u_s)


def _in_gap(gap: tuple[float, float]) -> Boundary:
    return Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")


def _departure(view: View, place_s: float, stroke_s: float, lag: Lag) -> Knee | None:
    """The departure from soak level near `place_s`, or the opening stroke that hides before it."""
    part = view.pressure.window(place_s - SOAK_S / 2, stroke_s)
    soak = part.window(place_s - SOAK_S / 2, place_s - 0.5).values
    shut = part.window(stroke_s - max(SHUT_S, 2.5 * part.interval_s), stroke_s).values
    if len(soak) < 2 or not shut:
        return _leaving(view, place_s, stroke_s, lag)
    soak_bar, shut_bar = median(soak), median(shut)
    smooth = smoothed(part, FINE_S)
    if view.gauge_side is not GaugeSide.CLOSING:
        noise = view.noise / sqrt(_readings(part, FINE_S))
        near = smooth.window(place_s - LONGEST_PULSE_S, place_s + LONGEST_PULSE_S + 2 * lag.mean_s)
        pulse = opening_pulse(near, soak_bar, shut_bar, noise)
        if pulse is not None and pulse.let_off:
            return pulse.pulled_free
        if pulse is not None:
            until_s = min(stroke_s, pulse.begun_s + max(PULSE_FLANK_S, 2.5 * part.interval_s))
            knee = _leaving(view, pulse.begun_s, until_s, lag, PULSE_WITHIN_S)
            brief = pulse.peak_s - pulse.begun_s < BRIEF_S + lag.mean_s
            return _earlier(knee, AT_STOP) if brief and pulse.peak_bar > view.levels.top_bar else knee
    few = sqrt(1 / len(soak) + 1 / len(shut))
    if abs(soak_bar - shut_bar) < APART_SIGMAS * view.noise * few:
        return _leaving(view, place_s, stroke_s, lag)
    sign = 1.0 if soak_bar > shut_bar else -1.0
    k = min(bisect_left(part.t_s, place_s + LONGEST_PULSE_S + 2 * lag.mean_s), len(part) - 1)
    while k > 0 and sign * (smooth.values[k] - (soak_bar + shut_bar) / 2) < 0:
        k -= 1
    fall_s = part.t_s[k]
    if view.gauge_side is GaugeSide.CLOSING or sign < 0:
        return _leaving(view, fall_s, stroke_s, lag)
    before_s = fall_s - lag.mean_s - 0.1
    least_bar = PULSE_SHARE * abs(soak_bar - shut_bar)
    pulse_s = _pulse(view.pressure.window(before_s - SOAK_S / 2, before_s), view.noise, least_bar)
    if pulse_s is not None:
        # A stroke that ends at its stop shows as two steps: the first of them is its start.
        first = view.pressure.window(before_s - SOAK_S / 2, pulse_s - PULSE_WITHIN_S)
        begun_s = _pulse(first, view.noise, least_bar)
        from_s = begun_s or pulse_s
        knee = _leaving(view, from_s, min(before_s, from_s + PULSE_FLANK_S), lag, PULSE_WITHIN_S)
        brief = begun_s is None and fall_s - pulse_s < BRIEF_S + 2 * lag.mean_s
        at_stop = brief and max(view.pressure.window(pulse_s, fall_s).values) > view.levels.top_bar
        return _earlier(knee, AT_STOP) if at_stop else knee
    return _earlier(_leaving(view, fall_s, stroke_s, lag), HIDDEN_PULSE[view.gauge_side])


def _earlier(knee: Knee | None, hidden: tuple[float, float]) -> Knee | None:
    """What began so long before it showed: mean and standard uncertainty of that."""
    return knee and Knee(knee.at_s - hidden[0], hypot(knee.u_s, hidden[1]))


def _pulse(part: Series, noise: float, least: float) -> float | None:
    """When an opening stroke began that shows at another level than the soak; None where none does."""
    n = len(part)
    first = bisect_left(part.t_s, part.t_s[-1] - LONGEST_PULSE_S) if n else 0
    if n - first < 1 or first < 2:
        return None
    levels = _Levels(part)
    rss, split = min((levels.rss(0, i) + levels.rss(i, n), i) for i in range(first, n))
    variance = max(noise * noise, levels.rss(0, split) / split, 1e-12)
    apart = abs(levels.mean(0, split) - levels.mean(split, n))
    clear = levels.rss(0, n) - rss > PULSE_CHI2 * variance and apart > least
    return part.t_s[split] if clear else None


def _stroke(view: View, touch_s: float, lag: Lag) -> tuple[float, float]:
    """Until when no closing stroke shows, and how long the pump took to build up what moves the carriage."""
    part = view.pressure.window(touch_s - STROKE_S, touch_s)
    n = len(part)
    if n < 6:
        return touch_s - lag.mean_s - 0.2, 0.0
    smooth = smoothed(part, 0.4)
    open_bar, drag_bar = min(smooth.values), median(part.values[-_readings(part, 0.5) :])
    passed = []
    for share in (0.25, 0.75):
        bar = open_bar + share * (drag_bar - open_bar)
        passed.append(next((part.t_s[i] for i in range(n - 1, -1, -1) if smooth.values[i] <= bar), touch_s))
    rise_s = 2 * (passed[1] - passed[0])
    rounded_s = hypot(2.2 * lag.mean_s, ROUNDED_S, 2 * part.interval_s)
    risen = drag_bar - open_bar > 6 * view.noise
    if view.trace.pressure.gap_over(touch_s, margin_s=1e-3) is not None:
        # A rise right before the gap is the closing stroke where soak pressure was seen to fall before it.
        least = smooth.values.index(open_bar)
        if not risen or max(smooth.values[: least + 1]) - open_bar < 6 * view.noise:
            return touch_s, 0.0
    clear = risen and not view.trace.pressure.gap_over(passed[0], margin_s=1.0)
    return passed[0] - lag.mean_s - 0.2, sqrt(max(rise_s**2 - rounded_s**2, 0.0)) if clear else 0.0


def _readings(series: Series, span_s: float) -> int:
    return max(1, round(span_s / series.interval_s)) if series.interval_s > 0 else 1


def _places(data: Series, noise: float, pulses_s: tuple[float, ...], lag: Lag) -> list[tuple[float, float]]:
    """Where the soak level may have been left, each with its weight; none where all may be noise."""
    n = len(data)
    if n < 6:
        return []
    levels = _Levels(data)
    per_s = 1 / data.interval_s
    flank = max(1, round((FLANK_LAGS * lag.mean_s + 0.2) * per_s))
    first = max(2, round(LEAST_SOAK_S * per_s))
    pulses = sorted({max(round(pulse_s * per_s), 1 if pulse_s > 0 else 0) for pulse_s in pulses_s})
    tried: list[tuple[float, int, int]] = []
    for i in range(first, n):
        soaks = (levels.rss(0, i), min(levels.rss(0, k) + levels.rss(k, i) for k in range(1, i, TOP_UP_STEP)))
        ends = [
            (
                levels.rss(i, i + p)
                + levels.rss(i + p + flank, n)
                + levels.outside(i + p, flank, i if p else 0),
                1 if p else 0,
            )
            for p in pulses
            if i + p + flank < n
        ]
        tried += [
            (soak + end, topped_up + pulse, i) for topped_up, soak in enumerate(soaks) for end, pulse in ends
        ]
    if not tried:
        return []
    # A level more must earn its keep: soak topped up, a pulse of its own.
    each = 2 * log(n) * max(noise * noise, min(tried)[0] / n)
    found = [(rss + more * each, i) for rss, more, i in tried]
    best = min(found)[0]
    variance = max(noise * noise, best / n, 1e-12)
    if levels.rss(0, n) - best < LEAST_CHI2 * variance:
        return []
    return [((data.t_s[i - 1] + data.t_s[i]) / 2, exp((best - r) / (2 * variance))) for r, i in found]


def _leaving(view: View, place_s: float, until_s: float, lag: Lag, within_s: float = 0.8) -> Knee | None:
    """Fit the departure from soak level near `place_s`, up to the far end of its first flank."""
    part = view.pressure.window(place_s - SOAK_S / 2, min(place_s + FLANK_S, until_s))
    if len(part) < 4:
        return None
    interval_s = max(part.interval_s, 0.05)
    soak_bar = part.mean_between(place_s - SOAK_S / 2, place_s - 0.8 - interval_s)
    if soak_bar is None:
        soak_bar = part.values[0]
    smooth = smoothed(part, FINE_S)
    start = min(bisect_left(part.t_s, place_s - 0.3 - interval_s), len(part) - 1)
    end = _flank_end([bar - soak_bar for bar in smooth.values], start, view.noise)
    near = (place_s - within_s - interval_s, part.t_s[end])
    inside = part.window(part.t_s[0], part.t_s[min(end + 1, len(part) - 1)])
    knee = fit_onset(inside, near, view.noise, Before(view.drift_bar_per_s), lag)
    return knee or Knee((near[0] + near[1]) / 2, max(abs(near[1] - near[0]), interval_s) / 12**0.5)


def _flank_end(away: Sequence[float], start: int, noise: float) -> int:
    """Index at which the first flank from `start` on has done most of its way from the soak level."""
    most = max(range(start, len(away)), key=lambda k: abs(away[k]))
    least = max(2 * noise, 0.08 * abs(away[most]))
    first = next((k for k in range(start, most) if abs(away[k]) > least), most)
    far = first
    for k in range(first, len(away)):
        if away[k] * away[first] <= 0 or abs(away[k]) < 0.5 * abs(away[far]):
            break
        if abs(away[k]) > abs(away[far]):
            far = k
    return next(k for k in range(start, far + 1) if abs(away[k]) >= 0.7 * abs(away[far]))
