"""The boundaries of one heating cycle, each fitted in its own surroundings.

Definitions (knees of the noise-free pressure): bead-up starts at the first departure above travel drag with
the plate in; heat soak when the let-down starts; changeover when the first face leaves the plate; pressure
build-up when the faces touch; cooling when the pressure first enters the joining band (if it never does: the
knee that ends the ramp); cooling ends at the first knee of the final release.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import hypot, sqrt
from statistics import median

from logger.domain.judgement import Boundary, PhaseSpan
from logger.domain.phase import Phase
from logger.phases.breakaway import slip_of
from logger.phases.carriage import first_touched, touched
from logger.phases.changeover import changeover_start
from logger.phases.edges import Knee, crossing
from logger.phases.lag import Lag, lag_of
from logger.phases.pattern import Cycle
from logger.phases.rise_fall import fall_start, ramp_end, rise_start
from logger.phases.runs import Run
from logger.phases.series import smoothed
from logger.phases.slow_fall import slow_fall
from logger.phases.view import View

DRAG_BEFORE_S = 0.2
DRAG_OVER_S = 1.0
LEAST_DRAG_SHARE = 0.05
GAP_MARGIN_S = 0.3
PARTIAL_MIN_S = 8.0
HELD_SHARE = 0.8
PARTIAL_LEFT_S = 3.0
PARTIAL_SMOOTH_S = 1.0
PARTIAL_SIGMAS = 8.0
PARTIAL_SHARE = 0.2
AGREE_SIGMAS = 4.0
LONG_RELEASE_S = 6.0
OPENING_U_S = 3.0
ABOVE_DRAG = 0.2
"""Above this share of the step the carriage that broke loose met the other face at once."""
TOUCH_U_S = 0.06
"""Faces yield before they press: how exactly a gauge tells the touch, a choice."""
TOUCH_WIDER = 1.6
COOLING_WIDER = 1.15
"""What no fit weighs, such as a valve opened in two goes: by how much intervals must grow to cover."""


def spans_of(cycle: Cycle, view: View, falls_s: Sequence[float] | None = None) -> tuple[PhaseSpan, ...]:
    """Place the boundaries of one cycle; each phase ends where the next begins.

    `falls_s` are the times at which the pressure fell in this trace: their tails tell the transmitter's lag.
    Left out, the cycle's own let-down and release, and the curve need not be whole.
    """
    is_whole = falls_s is not None
    if falls_s is None:
        runs = (cycle.bead_up, cycle.cooling)
        falls_s = [run.end_s for run in runs if run is not None and not run.open_end]
    lag = lag_of(view.pressure, falls_s, view.noise, view.hints.commissioned_lag)
    bead_up = _bead_up(cycle.bead_up, view, lag)
    if is_whole:
        view = _with_drag(view, bead_up)
    soak, low_from_s = _let_down(cycle, view, lag)
    if cycle.cooling is None:
        unseen = Boundary(reason="gap_over_boundary" if cycle.in_gap else "trace_ends")
        return _spans([bead_up, soak, *[unseen] * 4])
    end = _release(view, cycle.cooling, lag)
    touch = _touch(cycle.cooling, view, lag)
    if low_from_s is None:
        changeover = _placed(view, fall_start(view, cycle.bead_up.end_s, lag), cycle.bead_up.end_s)
    else:
        changeover = _opening(changeover_start(view, low_from_s, _closed_s(view, cycle.cooling, touch), lag))
    cooling = _cooling_start(view, cycle.cooling, touch, lag)
    edges = [bead_up, soak, changeover, touch, cooling, end]
    return _spans(_in_order(edges) if is_whole else edges)


def _with_drag(view: View, bead_up: Boundary) -> View:
    """Where no drag is known, the level from which the bead-up rose tells it: that rise is quick."""
    if view.hints.drag_bar is not None or bead_up.at_s is None:
        return view
    before = view.pressure.window(bead_up.at_s - DRAG_OVER_S - DRAG_BEFORE_S, bead_up.at_s - DRAG_BEFORE_S)
    drag_bar = median(before.values) if len(before) else 0.0
    if not LEAST_DRAG_SHARE * view.levels.step_bar < drag_bar < view.levels.leave_bar:
        return view
    return replace(view, hints=replace(view.hints, drag_bar=drag_bar))


def _in_order(edges: Sequence[Boundary]) -> list[Boundary]:
    """Phases follow one another: of two places that contradict that, the vaguer is none."""
    placed = list(edges)
    while True:
        at_s = {k: edge.at_s for k, edge in enumerate(placed) if edge.at_s is not None}
        wrong = next(((a, b) for a, b in pairwise(at_s) if at_s[b] <= at_s[a]), None)
        if wrong is None:
            return placed
        vaguer = max(wrong, key=lambda k: placed[k].u_s or 0.0)
        placed[vaguer] = Boundary(u_s=placed[vaguer].u_s, reason="edge_not_clear")


def _spans(edges: list[Boundary]) -> tuple[PhaseSpan, ...]:
    return tuple(
        PhaseSpan(phase=phase, start=start, end=end)
        for phase, start, end in zip(Phase, edges, edges[1:], strict=False)
    )


def _across_gap(view: View, coarse_s: float) -> Boundary | None:
    """The pressure came back changed after a gap: whatever happened in it was not seen."""
    gap = view.trace.pressure.gap_over(coarse_s, margin_s=GAP_MARGIN_S)
    return None if gap is None else Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")


def _placed(view: View, knee: Knee | None, coarse_s: float) -> Boundary:
    """The fitted boundary; null where the change was first seen, at `coarse_s`, right after a gap."""
    across = _across_gap(view, coarse_s)
    if across is not None:
        return across
    if knee is None:
        return Boundary(reason="edge_not_clear")
    gap = view.trace.pressure.gap_over(knee.at_s, margin_s=GAP_MARGIN_S)
    if gap is not None:
        return Boundary(u_s=(gap[1] - gap[0]) / 12**0.5, reason="gap_over_boundary")
    return Boundary(at_s=knee.at_s, u_s=knee.u_s)


def _let_down(cycle: Cycle, view: View, lag: Lag) -> tuple[Boundary, float | None]:
    """Start of the let-down, and from when on the pressure is low; None where it was never let down."""
    run = cycle.bead_up
    seated = view.trace.plate_in.mean_between(run.end_s + 2.0, run.end_s + 4.0)
    followed = cycle.cooling.start_s - run.end_s if cycle.cooling else view.trace.end_s - run.end_s
    soaked = view.hints.soak_s is None or followed > 0.3 * view.hints.soak_s
    held = view.hints.soak_s is not None and run.duration_s > HELD_SHARE * view.hints.soak_s
    # A plate seen in place shortly after says little where the bead-up was as long as bead-up and soak.
    let_down = soaked or (seated is not None and seated > 0.5 and not held)
    coarse_s = _partial_let_down(view, run.start_s, run.end_s) or (run.end_s if let_down else None)
    if coarse_s is None:
        return Boundary(reason="no_let_down"), None
    return _placed(view, fall_start(view, coarse_s, lag), coarse_s), coarse_s


def _partial_let_down(view: View, from_s: float, to_s: float) -> float | None:
    """Time of a lasting fall by a fifth of the step or more within a stretch that stays high."""
    part = smoothed(view.pressure.window(from_s + 1.0, to_s - 1.0), PARTIAL_SMOOTH_S)
    if len(part) < 8 or to_s - from_s < PARTIAL_MIN_S:
        return None
    fall_bar = PARTIAL_SHARE * view.levels.step_bar
    noise = view.noise / sqrt(max(PARTIAL_SMOOTH_S / part.interval_s, 1.0))
    least_bar = max(part.values) - max(fall_bar, PARTIAL_SIGMAS * noise)
    last = max(k for k, bar in enumerate(part.values) if bar >= least_bar)
    at_s = part.t_s[last]
    before, after = part.mean_between(at_s - 3.0, at_s - 2.0), part.mean_between(at_s + 2.0, at_s + 3.0)
    if before is None or after is None or to_s - at_s < PARTIAL_LEFT_S or before - after < fall_bar / 2:
        return None
    return at_s


def _release(view: View, run: Run, lag: Lag) -> Boundary:
    """First knee of the final release, however slowly the valve was opened."""
    if run.open_end:
        return Boundary(reason="trace_ends")
    knee, slow = fall_start(view, run.end_s, lag), slow_fall(view, run)
    if slow is not None:
        slow = Knee(slow.at_s - lag.mean_s, hypot(slow.u_s, lag.u_s))
        is_long = run.end_s - slow.at_s > LONG_RELEASE_S
        if knee is None or is_long or abs(knee.at_s - slow.at_s) > AGREE_SIGMAS * hypot(knee.u_s, slow.u_s):
            return _placed(view, slow, slow.at_s)
    return _placed(view, knee, run.end_s)


def _opening(boundary: Boundary) -> Boundary:
    """Places too far apart are no place: no limit can be held against their spread."""
    lost = boundary.u_s is not None and boundary.u_s > OPENING_U_S and boundary.at_s is not None
    return Boundary(u_s=boundary.u_s, reason="opening_not_visible") if lost else boundary


def _closed_s(view: View, run: Run, touch: Boundary) -> float:
    """Until when to look for the opening: the touch, or the gap that hides it."""
    gap = view.trace.pressure.gap_over(run.start_s, margin_s=GAP_MARGIN_S)
    return touch.at_s or (run.start_s if gap is None else gap[0])


def _bead_up(run: Run, view: View, lag: Lag) -> Boundary:
    """First departure above travel drag; a carriage that stops at the plate then says it more exactly."""
    pressed_s, by_pressure = _pressed(run, view, lag)
    if by_pressure.u_s is not None:
        by_pressure = replace(by_pressure, u_s=hypot(by_pressure.u_s, TOUCH_U_S))
    by_carriage = touched(view.trace.carriage, pressed_s)
    if by_carriage is None or by_carriage.at_s is None or by_carriage.u_s is None:
        return by_pressure
    if by_pressure.at_s is None or by_pressure.u_s is None:
        return by_pressure
    both_u_s = hypot(by_pressure.u_s, by_carriage.u_s)
    # A carriage that sticks raises the pressure before the faces meet; none presses them before they do.
    apart_s = by_pressure.at_s - by_carriage.at_s
    if apart_s < AGREE_SIGMAS * both_u_s:
        return by_carriage if by_carriage.u_s < by_pressure.u_s else by_pressure
    # The carriage rested long before any pressure showed: one of the two is wrong, and the boundary owns up.
    return replace(by_pressure, u_s=hypot(by_pressure.u_s, apart_s / sqrt(12)))


def _pressed(run: Run, view: View, lag: Lag) -> tuple[float, Boundary]:
    """When the faces press one another for certain, and when they met as the pressure tells it."""
    rise_s = run.start_s
    slip = slip_of(view, rise_s, run.end_s)
    if slip is None:
        return rise_s, _placed(view, rise_start(view, rise_s, lag), rise_s)
    back_s = max(slip.back_s, rise_s)
    if slip.low_bar > view.levels.base_bar + ABOVE_DRAG * view.levels.step_bar:
        return back_s, _placed(view, Knee(slip.middle_s, slip.u_s), back_s)
    # The lowest reading comes late by the lag: what pressed the faces may have begun as long before it.
    not_before_s = max(slip.peak_s, slip.low_s - 2 * lag.mean_s)
    return back_s, _placed(view, rise_start(view, back_s, lag, not_before_s), back_s)


def _touch(run: Run, view: View, lag: Lag) -> Boundary:
    pressed_s, by_pressure = _pressed(run, view, lag)
    by_carriage = first_touched(view.trace.carriage, pressed_s)
    if by_carriage is not None:
        return by_carriage
    if by_pressure.at_s is None or by_pressure.u_s is None:
        return by_pressure
    return Boundary(at_s=by_pressure.at_s, u_s=TOUCH_WIDER * hypot(by_pressure.u_s, TOUCH_U_S))


def _cooling_start(view: View, run: Run, touch: Boundary, lag: Lag) -> Boundary:
    across = _across_gap(view, run.start_s)
    if across is not None:
        return across
    knee = _settled(view, run, touch, lag)
    return _placed(view, knee and Knee(knee.at_s, COOLING_WIDER * knee.u_s), run.start_s)


def _settled(view: View, run: Run, touch: Boundary, lag: Lag) -> Knee | None:
    """When the pressure entered the joining band, or settled below it."""
    from_s = touch.at_s if touch.at_s is not None else run.start_s - 2.0
    band = view.hints.joining_band
    if band is not None and band.min is not None:
        room_bar = (band.target or band.max or band.min) - band.min
        knee = crossing(view.pressure, band.min, (from_s, run.end_s), view.noise, lag, room_bar)
        if knee is not None and knee.at_s > from_s:
            return knee
    return ramp_end(view, run.start_s, from_s, lag)
