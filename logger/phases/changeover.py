"""When the first face leaves the plate: from the carriage where there is one, from the gauge otherwise."""

from collections.abc import Sequence
from math import hypot

from logger.domain.judgement import Boundary
from logger.domain.rig import GaugeSide
from logger.phases.edges import Knee, Piece, fit_knee, pieces_of
from logger.phases.onset import Before, Onset, delay_of, fit_onset
from logger.phases.series import Series, Trace
from logger.phases.view import View

SEARCH_S = 60.0
SETTLE_S = 3.0
RETURN_S = 15.0
"""Pressure back at its soak level for this long was a nudge to keep contact, not the changeover."""
FREE_WITHIN_S = 2.0
COMING_FREE_U_S = 0.1
"""A gauge does not show when friction lets the face go: standard uncertainty, a choice."""
FAR_S = 30.0
HELD_S = 3.0
OPENED_MM = 3.0
STROKE_ALONE_S = 4.0
"""A rise this short before the faces touch may be the closing stroke alone, its opening unseen."""


def changeover_start(view: View, low_from_s: float, touch_s: float, lags: Sequence[float]) -> Boundary:
    """Place the start of the changeover between the let-down and the touch of the faces."""
    return _by_carriage(view.trace, low_from_s, touch_s) or _by_pressure(view, low_from_s, touch_s, lags)


def touch_by_carriage(trace: Trace, coarse_s: float) -> Boundary | None:
    """When the faces touch, by the end of the closing movement; None where the carriage does not show it."""
    around = trace.carriage.window(coarse_s - SEARCH_S, coarse_s + 5.0)
    if len(around) < 8 or _covers(trace.carriage, coarse_s) is None:
        return None
    last_s = _last_fast_closing(around)
    if last_s is None or coarse_s - last_s > FAR_S:
        return None
    part = around.window(last_s - 0.8, last_s + 1.5)
    knee = _bend_between(part, last_s, reverse=True)
    return None if knee is None else _checked(trace.carriage, knee)


def _last_fast_closing(around: Series) -> float | None:
    """When the closing stroke was last at speed: bead and melt go on yielding, but far slower."""
    width = max(1, round(0.3 / around.interval_s)) if around.interval_s > 0 else 1
    t, x = around.t_s, around.values
    speeds = [(x[k] - x[k + width]) / (t[k + width] - t[k]) for k in range(len(x) - width)]
    fastest = max(speeds, default=0.0)
    if fastest * 0.3 < OPENED_MM / 2:
        return None
    return next(t[k + width] for k in range(len(speeds) - 1, -1, -1) if speeds[k] > 0.5 * fastest)


def _covers(series: Series, at_s: float) -> float | None:
    part = series.window(at_s - 2.0, at_s + 2.0)
    return part.values[0] if len(part) >= 4 else None


def _by_carriage(trace: Trace, low_from_s: float, touch_s: float) -> Boundary | None:
    part = trace.carriage.window(max(low_from_s, touch_s - 4 * SEARCH_S), touch_s)
    if len(part) < 8:
        return None
    widest = max(range(len(part)), key=part.values.__getitem__)
    i = widest
    rest = sorted(part.values[: max(widest // 2, 1)])[max(widest // 2, 1) // 2]
    if part.values[widest] - rest < OPENED_MM:
        return None
    while i > 0 and part.values[i] > rest + 0.5 * OPENED_MM:
        i -= 1
    coarse_s = part.t_s[min(i + 1, widest)]
    knee = _bend_between(part.window(coarse_s - 2.5, coarse_s + 0.6), coarse_s, reverse=False)
    return None if knee is None else _checked(trace.carriage, knee)


def _bend_between(series: Series, coarse_s: float, *, reverse: bool) -> Knee | None:
    if len(series) < 5:
        return None
    noise = max(series.noise, 0.02)
    near = (coarse_s - 0.5, coarse_s + 1.0) if reverse else (coarse_s - 1.0, coarse_s + 0.3)
    if not reverse:
        return fit_knee(series, near, noise)
    mirrored = Series(tuple(-t for t in reversed(series.t_s)), tuple(reversed(series.values)))
    knee = fit_knee(mirrored, (-near[1], -near[0]), noise)
    return None if knee is None else Knee(-knee.at_s, knee.u_s)


def _checked(series: Series, knee: Knee) -> Boundary:
    gap = series.gap_over(knee.at_s)
    if gap is not None:
        return Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")
    return Boundary(at_s=knee.at_s, u_s=knee.u_s)


def _by_pressure(view: View, low_from_s: float, touch_s: float, lags: Sequence[float]) -> Boundary:
    """The last moment at which the gauge still stood at its soak level."""
    from_s = max(low_from_s + SETTLE_S, touch_s - SEARCH_S)
    low = view.pressure.window(from_s, touch_s)
    pieces = pieces_of(low, view.roughness)
    if len(pieces) < 2:
        return Boundary(reason="opening_not_visible")
    level = _soak_level(pieces, view)
    last = _last_at(pieces, level, view, touch_s)
    if last is None or last + 1 >= len(pieces):
        return Boundary(reason="opening_not_visible")
    leaving = pieces[last + 1]
    if _may_be_stroke_alone(pieces[last + 1 :], pieces[last].end_level, touch_s, view):
        return Boundary(reason="opening_not_visible")
    gap = view.trace.pressure.gap_over((pieces[last].end_s + leaving.start_s) / 2)
    if gap is not None:
        return Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")
    fit = _leave(low, pieces[last], leaving, view, lags)
    if fit is None:
        return Boundary(reason="edge_not_clear")
    # Somewhere between the first change of pressure and its end friction gives way and the face comes free.
    lag_s = 2 * delay_of(lags)[0]
    way_s = min(max(_way_s(pieces[last + 1 :], fit.knee.at_s) - lag_s, 0.0), FREE_WITHIN_S)
    u_s = hypot(fit.knee.u_s, way_s / 12**0.5, COMING_FREE_U_S)
    knee = Knee(fit.knee.at_s + way_s / 2, u_s)
    return _checked(view.trace.pressure, knee)


def _way_s(pieces: Sequence[Piece], onset_s: float) -> float:
    """How long the pressure goes on changing in the direction in which it left its soak level."""
    end_s = onset_s
    first = pieces[0]
    sign = 1.0 if first.slope > 0 else -1.0
    steepest = max(abs(piece.slope) for piece in pieces[:3])
    for piece in pieces:
        if piece.slope * sign < 0.1 * steepest:
            break
        end_s = piece.end_s
    return max(end_s - onset_s, 0.0)


def _soak_level(pieces: tuple[Piece, ...], view: View) -> float:
    """Level of the longest flat piece: the soak lasts far longer than anything in the changeover."""
    flat = [p for p in pieces if abs(p.end_level - p.level) < 0.25 * view.levels.step_bar] or list(pieces)
    longest = max(flat, key=lambda p: p.end_s - p.start_s)
    return longest.end_level


def _last_at(pieces: tuple[Piece, ...], level: float, view: View, touch_s: float) -> int | None:
    """Index of the last piece at soak level; a top-up or slow decay moves the level along."""
    tolerance = _tolerance(level, view)
    # A rise and a return near the end is the opening stroke, not a nudge: do not bridge into the changeover.
    limit_s = max(RETURN_S, 2.5 * (view.hints.changeover_max_s or 0.0))
    last: int | None = None
    for k, piece in enumerate(pieces):
        near = abs(piece.level - level) <= tolerance and abs(piece.end_level - level) <= tolerance
        if not near and not (last == k - 1 and _is_held_contact(piece, view)):
            continue
        long = piece.end_s - piece.start_s >= limit_s or touch_s - piece.end_s > 2 * RETURN_S
        if last is None or k == last + 1 or long:
            last = k
            level = piece.end_level
    return last


def _is_held_contact(piece: Piece, view: View) -> bool:
    """A pressure held for seconds that is neither none nor travel drag: contact was topped up, not left."""
    drag_bar = view.hints.drag_bar
    if drag_bar is None or piece.end_s - piece.start_s < HELD_S:
        return False
    apart = max(3 * view.noise, 0.1 * drag_bar)
    return all(min(abs(bar), abs(bar - drag_bar)) > apart for bar in (piece.level, piece.end_level))


def _tolerance(level: float, view: View) -> float:
    """How far the gauge may wander in the soak: well short of falling to zero or rising to travel drag."""
    moves = [abs(level - bar) for bar in (0.0, view.hints.drag_bar) if bar is not None]
    least = max(3 * view.noise, 0.03 * view.levels.step_bar)
    move = min(moves) if min(moves) > least else max(moves)
    return max(2.5 * view.noise, 0.02 * view.levels.step_bar, 0.25 * min(move, view.levels.step_bar))


def _may_be_stroke_alone(rest: tuple[Piece, ...], soak_bar: float, touch_s: float, view: View) -> bool:
    """Whether all that was seen is one rise from the soak level that runs on into the build-up."""
    if rest[0].end_level < soak_bar or view.gauge_side is GaugeSide.LINE:
        return False
    peak_bar = soak_bar
    falls = False
    for bar in (bar for piece in rest for bar in (piece.level, piece.end_level)):
        falls = falls or bar < peak_bar - max(0.3 * (peak_bar - soak_bar), 3 * view.noise)
        peak_bar = max(peak_bar, bar)
    short = touch_s - rest[0].start_s < STROKE_ALONE_S
    return not falls and (short or view.gauge_side is GaugeSide.CLOSING)


def _leave(low: Series, soak: Piece, leaving: Piece, view: View, lags: Sequence[float]) -> Onset | None:
    guess_s = (soak.end_s + leaving.start_s) / 2
    part = low.window(guess_s - 4.0, min(leaving.end_s, guess_s + max(0.6, 4 * low.interval_s)))
    reach_s = max(0.6, 3 * low.interval_s)
    return fit_onset(
        part, (guess_s - reach_s, guess_s + reach_s), view.noise, Before(view.drift_bar_per_s), lags
    )
