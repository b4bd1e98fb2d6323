"""The boundaries of one heating cycle, each fitted in its own surroundings.

Definitions (knees of the noise-free pressure): bead-up starts at the first departure above travel drag with
the plate in; heat soak when the let-down starts; changeover when the first face leaves the plate; pressure
build-up when the faces touch; cooling when the pressure first enters the joining band (if it never does: the
knee that ends the ramp); cooling ends at the first knee of the final release.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import hypot

from logger.domain.judgement import Boundary, PhaseSpan
from logger.domain.phase import Phase
from logger.phases.changeover import changeover_start, touch_by_carriage
from logger.phases.edges import Knee, Piece, crossing, pieces_of, thinned
from logger.phases.onset import ANY_LAG, Before, Onset, delay_of, fit_onset, pooled_lags
from logger.phases.pattern import Cycle
from logger.phases.runs import Run
from logger.phases.series import Series
from logger.phases.view import View

BEFORE_S = 12.0
AFTER_S = 8.0
GAP_MARGIN_S = 0.3
SETTLING_S = 3.0
LET_DOWN_SHARE = 0.6
AT_DRAG_SHARE = 0.08
TOUCH_U_S = 0.1
"""Molten faces yield before they press: how exactly a gauge tells the touch, a choice."""
ONSET_PER_LAG = 0.25
"""A corner that valve and transmitter round in another way than assumed moves the onset by this much lag."""
PARTIAL_MIN_S = 8.0
PARTIAL_READINGS = 400
NOISES_UP = 10.0


def spans_of(cycle: Cycle, view: View) -> tuple[PhaseSpan, ...]:
    """Place the boundaries of one cycle; each phase ends where the next begins.

    Let-down and release come first: fast and large, they tell the lag with which this rig shows the others.
    """
    soak_fit, soak, low_from_s = _let_down(cycle, view)
    if cycle.cooling is None:
        bead_up = _rise(view, cycle.bead_up.start_s, pooled_lags([soak_fit]))
        return _spans([bead_up, soak, *[Boundary(reason="trace_ends")] * 4])
    is_open = cycle.cooling.open_end
    end_fit = None if is_open else _departure(view, _negated(view.pressure), cycle.cooling.end_s)
    end = Boundary(reason="trace_ends") if is_open else _boundary(view, end_fit, cycle.cooling.end_s)
    lags = pooled_lags([soak_fit, None if end.at_s is None else end_fit])
    bead_up = _rise(view, cycle.bead_up.start_s, lags)
    touch = _touch(cycle.cooling, view, lags)
    if low_from_s is None:
        fit = _departure(view, _negated(view.pressure), cycle.bead_up.end_s, lags)
        changeover = _boundary(view, fit, cycle.bead_up.end_s)
    else:
        changeover = changeover_start(view, low_from_s, touch.at_s or cycle.cooling.start_s, lags)
    cooling = _cooling_start(view, cycle.cooling, touch, lags)
    return _spans([bead_up, soak, changeover, touch, cooling, end])


def _spans(edges: list[Boundary]) -> tuple[PhaseSpan, ...]:
    return tuple(
        PhaseSpan(phase=phase, start=start, end=end)
        for phase, start, end in zip(Phase, edges, edges[1:], strict=False)
    )


def _rise(view: View, coarse_s: float, lags: Sequence[float]) -> Boundary:
    """First departure of a rising edge that passes the threshold at `coarse_s`."""
    return _boundary(view, _departure(view, view.pressure, coarse_s, lags), coarse_s)


def _across_gap(view: View, coarse_s: float) -> Boundary | None:
    """The pressure came back changed after a gap: whatever happened in it was not seen."""
    gap = view.trace.pressure.gap_over(coarse_s, margin_s=GAP_MARGIN_S)
    return None if gap is None else Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")


def _boundary(view: View, fit: Onset | Knee | None, coarse_s: float | None = None) -> Boundary:
    """The fitted boundary; null where the change was first seen, at `coarse_s`, right after a gap."""
    across = None if coarse_s is None else _across_gap(view, coarse_s)
    if across is not None:
        return across
    if fit is None:
        return Boundary(reason="edge_not_clear")
    knee = fit.knee if isinstance(fit, Onset) else fit
    if isinstance(fit, Onset):
        knee = Knee(knee.at_s, hypot(knee.u_s, ONSET_PER_LAG * delay_of(fit.lag_weights)[0]))
    gap = view.trace.pressure.gap_over(knee.at_s)
    if gap is not None:
        return Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")
    return Boundary(at_s=knee.at_s, u_s=knee.u_s)


def _negated(series: Series) -> Series:
    return Series(series.t_s, tuple(-v for v in series.values))


def _reversed(series: Series) -> Series:
    return Series(tuple(-t for t in reversed(series.t_s)), tuple(-v for v in reversed(series.values)))


def _departure(view: View, series: Series, coarse_s: float, lags: Sequence[float] = ANY_LAG) -> Onset | None:
    """Knee where the rise through `coarse_s` begins: walk down the rising pieces, then fit the bend."""
    around = series.window(coarse_s - BEFORE_S, coarse_s + AFTER_S)
    pieces = _with_jumps(pieces_of(around, view.roughness), max(5 * view.noise, 0.05 * view.levels.step_bar))
    inside = [k for k, piece in enumerate(pieces) if piece.start_s <= coarse_s]
    if not inside:
        return None
    is_rise = series is view.pressure
    first, steepest = _foot(pieces, _steepest_near(pieces, inside[-1], view), view, is_rise=is_rise)
    if first == 0:
        return None
    if is_rise and _at_drag(pieces[first].level, view) and not _at_drag(pieces[first - 1].end_level, view):
        return _off_drag(around, pieces[first], pieces[steepest], view, lags)
    return _bend(around, pieces[first - 1 : first + 1], pieces[steepest], view, lags, is_rise=is_rise)


def _with_jumps(pieces: tuple[Piece, ...], threshold: float) -> tuple[Piece, ...]:
    """Add a steep piece where one stretch ends and the next begins elsewhere: an edge between readings."""
    joined = list(pieces[:1])
    for before, after in pairwise(pieces):
        jump = after.level - before.end_level
        if abs(jump) > threshold:
            slope = jump / (after.start_s - before.end_s)
            joined.append(Piece(before.end_s, after.start_s, before.end_level, slope))
        joined.append(after)
    return tuple(joined)


def _steepest_near(pieces: tuple[Piece, ...], k: int, view: View) -> int:
    """The piece that rises at the coarse time; where that fell into a flat one, its steeper neighbour."""
    rise = pieces[k].end_level - pieces[k].level
    if rise > max(3 * view.noise, 0.1 * view.levels.step_bar):
        return k
    return max((j for j in (k - 1, k, k + 1) if 0 <= j < len(pieces)), key=lambda j: pieces[j].slope)


def _foot(pieces: tuple[Piece, ...], k: int, view: View, *, is_rise: bool) -> tuple[int, int]:
    """Index of the first piece of the rise that contains piece `k`, and of the steepest from there to `k`."""
    steepest = k
    while k > 0:
        below = pieces[k - 1]
        rise = below.end_level - below.level
        slope = pieces[steepest].slope
        if below.slope < 0.08 * slope or rise < max(3 * view.noise, 0.03 * view.levels.step_bar):
            break
        # The rise began where it left travel drag; what lies below that is the stroke getting under way.
        same_ramp = below.slope > 0.5 * slope and below.level > 0.8 * (view.hints.drag_bar or 0.0)
        off_drag = _at_drag(pieces[k].level, view) or _at_drag(below.end_level, view)
        if is_rise and off_drag and not same_ramp:
            break
        # A stroke that starts moving is far steeper than the build-up behind it: not the joint's knee.
        if below.slope > 4 * slope and below.end_level < pieces[k].level + 0.35 * view.levels.step_bar:
            break
        k -= 1
        if below.slope > slope:
            steepest = k
    return k, steepest


def _at_drag(bar: float, view: View) -> bool:
    """Whether a gauge pressure is no further above travel drag than noise and a starting ramp explain."""
    drag_bar = view.hints.drag_bar
    if drag_bar is None:
        return False
    return bar < drag_bar + max(view.noise, AT_DRAG_SHARE * view.levels.step_bar)


def _off_drag(
    series: Series, first: Piece, steepest: Piece, view: View, lags: Sequence[float]
) -> Onset | None:
    """Fit the onset where the plateau at travel drag is too short or too noisy to stand out as a piece."""
    drag_bar = view.hints.drag_bar or 0.0
    crossing_s = steepest.start_s + (drag_bar - steepest.level) / steepest.slope
    guess_s = min(max(crossing_s, first.start_s + 0.3), steepest.end_s)
    to_s = max(guess_s + _share(view, steepest) * (steepest.end_s - guess_s), guess_s + 4 * series.interval_s)
    part = series.window(first.start_s, to_s)
    before = Before(view.drift_bar_per_s, settling=True)
    reach_s = max(1.0, 3 * series.interval_s)
    return fit_onset(part, (first.start_s, guess_s + reach_s), view.noise, before, lags)


def _share(view: View, steepest: Piece) -> float:
    """How far up a ramp to fit: no further than noise demands, ramps by hand are not straight."""
    rise = abs(steepest.end_level - steepest.level)
    return min(0.6, max(0.25, NOISES_UP * view.noise / rise)) if rise > 0 else 0.6


def _bend(
    series: Series,
    corner: Sequence[Piece],
    steepest: Piece,
    view: View,
    lags: Sequence[float],
    *,
    is_rise: bool,
) -> Onset | None:
    """Fit the onset at a corner of two pieces: on the foot's last seconds and the change's lower part."""
    foot, first = corner
    guess_s = (foot.end_s + first.start_s) / 2
    if steepest.slope != foot.slope:
        meet = (foot.level - foot.slope * foot.start_s) - (steepest.level - steepest.slope * steepest.start_s)
        meet_s = meet / (steepest.slope - foot.slope)
        if abs(meet_s - guess_s) < 1.0:
            guess_s = meet_s
    share = _share(view, steepest) if is_rise else LET_DOWN_SHARE
    up_s = share * (steepest.end_s - steepest.start_s)
    to_s = steepest.start_s + max(up_s, 2.5 * series.interval_s)
    # A short foot is still settling from the stroke that came before.
    before = Before(view.drift_bar_per_s, settling=foot.end_s - foot.start_s < SETTLING_S)
    part = series.window(max(foot.start_s, guess_s - 4.0), to_s)
    reach_s = max(0.8, 3 * series.interval_s)
    return fit_onset(part, (guess_s - reach_s, guess_s + reach_s), view.noise, before, lags)


def _let_down(cycle: Cycle, view: View) -> tuple[Onset | None, Boundary, float | None]:
    """Start of the let-down, and from when on the pressure is low; None where it was never let down."""
    run = cycle.bead_up
    seated = view.trace.plate_in.mean_between(run.end_s + 2.0, run.end_s + 4.0)
    followed = cycle.cooling.start_s - run.end_s if cycle.cooling else view.trace.end_s - run.end_s
    soaked = view.hints.soak_s is None or followed > 0.3 * view.hints.soak_s
    let_down = soaked or (seated is not None and seated > 0.5)
    coarse_s = _partial_let_down(view, run.start_s, run.end_s) or (run.end_s if let_down else None)
    if coarse_s is None:
        return None, Boundary(reason="no_let_down"), None
    fit = _departure(view, _negated(view.pressure), coarse_s)
    start = _boundary(view, fit, coarse_s)
    return None if start.at_s is None else fit, start, coarse_s


def _partial_let_down(view: View, from_s: float, to_s: float) -> float | None:
    """Time of a lasting fall by a fifth of the step or more within a stretch that stays high."""
    rough = max(view.roughness, 0.03 * view.levels.step_bar)
    part = view.pressure.window(from_s + 1.0, to_s - 1.0)
    if len(part) < 8 or to_s - from_s < PARTIAL_MIN_S:
        return None
    pieces = _with_jumps(pieces_of(thinned(part, PARTIAL_READINGS), rough), rough)
    top_bar = max(piece.level for piece in pieces)
    for k, piece in enumerate(pieces):
        rest = pieces[k:]
        stays = all(p.end_level < top_bar - 0.2 * view.levels.step_bar for p in rest)
        if stays and to_s - piece.start_s > PARTIAL_MIN_S and piece.slope < 0:
            return (piece.start_s + piece.end_s) / 2 if piece.end_s - piece.start_s < 5.0 else piece.start_s
    return None


def _touch(run: Run, view: View, lags: Sequence[float]) -> Boundary:
    by_carriage = touch_by_carriage(view.trace, run.start_s)
    if by_carriage is not None:
        return by_carriage
    by_pressure = _rise(view, run.start_s, lags)
    if by_pressure.at_s is None or by_pressure.u_s is None:
        return by_pressure
    return Boundary(at_s=by_pressure.at_s, u_s=hypot(by_pressure.u_s, TOUCH_U_S))


def _cooling_start(view: View, run: Run, touch: Boundary, lags: Sequence[float]) -> Boundary:
    across = _across_gap(view, run.start_s)
    if across is not None:
        return across
    from_s = touch.at_s if touch.at_s is not None else run.start_s - 2.0
    band = view.hints.joining_band
    if band is not None and band.min is not None:
        knee = crossing(view.pressure, band.min, (from_s, run.end_s), view.noise)
        if knee is not None and knee.at_s > from_s:
            delay_s, u_s = delay_of(lags)
            at_s = max(knee.at_s - delay_s, from_s)
            return _boundary(view, Knee(at_s, hypot(knee.u_s, u_s)))
    return _ramp_end(view, run.start_s)


def _ramp_end(view: View, coarse_s: float) -> Boundary:
    """The knee that ends the ramp: the departure seen in reversed time."""
    fit = _departure(view, _reversed(view.pressure), -coarse_s)
    return _boundary(view, None if fit is None else Knee(-fit.knee.at_s, fit.knee.u_s))
