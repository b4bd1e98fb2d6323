"""What follows from one more sample: phases called, boundaries fitted, drags offered."""

from dataclasses import replace

from logger.domain.event import (
    BoundaryRevised,
    DragOffered,
    DragWithdrawn,
    Event,
    PhaseChanged,
)
from logger.domain.phase import PHASES, Phase
from logger.domain.rig import GaugeSide
from logger.phases.drag import Strokes, watch_strokes
from logger.phases.refine import Sketch, refined
from logger.phases.tracker import Change
from logger.phases.transitions import Cue
from logger.session.placed import Placed, Starts, called, fitted, is_in_order
from logger.session.state import PRESS_SHARE, SessionState, press_bar_of

FIT_AFTER_S: dict[Phase | None, tuple[float, ...]] = {
    Phase.CHANGEOVER: (1.5,),
    Phase.PRESSURE_BUILD_UP: (2.5,),
    None: (4.0,),
}
FIT_OTHERS_S = (2.5, 9.0)
"""When a boundary is fitted after it was called: with what is there, then with all that the fit takes."""

_IN_ERROR = {
    Cue.NO_PLATE,
    Cue.BACK_AT_SOAK,
    Cue.PRESSED_AGAIN,
    Cue.PRESSED_HIGHER,
    Cue.FELL_BACK,
    Cue.TOO_SHORT,
    Cue.BACK_IN_COOLING,
}
_STROKES_IN = {None, Phase.BEAD_UP, Phase.HEAT_SOAK}
"""As long as drag is not known a stroke passes for a bead-up; an alignment check does so even then."""


def entered(state: SessionState, change: Change, seen_at_s: float) -> tuple[SessionState, tuple[Event, ...]]:
    """Take a change of the live phase."""
    events: list[Event] = [
        PhaseChanged(
            before=change.before,
            after=change.after,
            cause=change.cue,
            at_s=change.at_s,
            seen_at_s=seen_at_s,
            withdrawn=change.cue in _IN_ERROR,
        )
    ]
    after = change.after
    if after is Phase.BEAD_UP:
        state = replace(state, bead=None)
        if state.tracked.hints.joining_bar is not None:
            counts, lowest_bar = state.strokes.counts, state.strokes.lowest_bar
            state = replace(state, strokes=Strokes(lowest_bar=lowest_bar, counts=counts))
    released = called(Phase.COOLING, change.at_s, seen_at_s) if change.cue is Cue.RELEASED else None
    fit_after_s = FIT_AFTER_S.get(after, FIT_OTHERS_S) if after or released else ()
    due_s = tuple(sorted({*state.due_s, *(seen_at_s + wait_s for wait_s in fit_after_s)}))
    starts = _starts(state.starts, change, seen_at_s)
    return replace(state, starts=starts, released=released, due_s=due_s if starts else ()), tuple(events)


def _starts(starts: Starts, change: Change, seen_at_s: float) -> Starts:
    if change.after is None:
        return starts if change.cue is Cue.RELEASED else {}
    if change.cue is Cue.TOO_SHORT and Phase.PRESSURE_BUILD_UP in starts:
        # What had passed for the cooling was the bead-up.
        starts = {Phase.BEAD_UP: starts[Phase.PRESSURE_BUILD_UP]}
    if change.cue is Cue.BACK_IN_COOLING and Phase.COOLING in starts:
        return starts
    if change.cue is Cue.BACK_AT_SOAK and Phase.HEAT_SOAK in starts:
        return {phase: start for phase, start in starts.items() if phase is not Phase.CHANGEOVER}
    earlier = PHASES[: PHASES.index(change.after)]
    kept = {phase: start for phase, start in starts.items() if phase in earlier}
    return {**kept, change.after: called(change.after, change.at_s, seen_at_s)}


def fit_due(state: SessionState, now_s: float) -> tuple[SessionState, tuple[Event, ...]]:
    """Fit the boundaries whose time has come; each that moves is an event."""
    if not state.due_s or now_s < state.due_s[0]:
        return state, ()
    state = replace(state, due_s=tuple(due for due in state.due_s if due > now_s))
    levels = state.tracked.levels
    if not state.starts or levels is None or levels.step_bar <= 0:
        return state, ()
    rig = state.setting.rig
    sketch = Sketch(
        starts_s={phase: start.called_s for phase, start in state.starts.items()},
        now_s=now_s,
        released_s=None if state.released is None else state.released.called_s,
    )
    gauge_side = rig.gauge_side if rig else GaugeSide.UNKNOWN
    fits = refined(sketch, state.samples.between, levels, state.tracked.hints, gauge_side)
    events: list[Event] = []
    for (phase, edge), fit in fits.items():
        before = state.released if edge == "end" else state.starts.get(phase)
        if before is None:
            continue
        after = fitted(before, fit)
        moved = _with(state, phase, edge, after)
        if after is before or not is_in_order(moved.starts):
            continue
        state = moved
        events.append(_revision(phase, edge, before, after, now_s))
    return state, tuple(events)


def _with(state: SessionState, phase: Phase, edge: str, placed: Placed) -> SessionState:
    if edge == "end":
        return replace(state, released=placed)
    return replace(state, starts={**state.starts, phase: placed})


def _revision(phase: Phase, edge: str, before: Placed, after: Placed, now_s: float) -> BoundaryRevised:
    return BoundaryRevised(
        phase=phase,
        edge=edge,
        from_s=before.at_s,
        to_s=None if after.unsure else after.at_s,
        u_s=None if after.unsure else after.u_s,
        seen_at_s=now_s,
        reason=after.unsure,
    )


def watch_drag(state: SessionState, now_s: float) -> tuple[SessionState, tuple[Event, ...]]:
    """Read the strokes of the preparation; only where a plan will need a drag."""
    tracked = state.tracked
    plan = state.setting.plan
    is_known = tracked.hints.joining_bar is not None
    if plan is None or state.released is not None or tracked.phase not in _STROKES_IN:
        return state, ()
    if tracked.phase is Phase.BEAD_UP and is_known:
        return state, ()
    before = state.strokes.counts
    strokes = watch_strokes(state.strokes, tracked.recent[-1], tracked.smooth_bar)
    state = replace(state, strokes=strokes)
    after = strokes.counts
    if after is before:
        return state, ()
    if after is None:
        withdrawn_bar = before.pressure_bar if before else 0.0
        return state, (DragWithdrawn(pressure_bar=withdrawn_bar, at_s=now_s, seen_at_s=now_s),)
    offered = DragOffered(
        pressure_bar=after.pressure_bar,
        spread_bar=after.spread_bar,
        breakaway_bar=after.breakaway_bar,
        at_s=after.at_s,
        seen_at_s=now_s,
        is_closing_seen=after.is_closing_seen,
    )
    if is_known:
        return state, (offered,)
    state, events = _no_bead_up(state, after.pressure_bar + PRESS_SHARE * (press_bar_of(plan) or 0.0), now_s)
    return state, (offered, *events)


def _no_bead_up(
    state: SessionState, least_bar: float, now_s: float
) -> tuple[SessionState, tuple[Event, ...]]:
    """What passed for a bead-up was the stroke: only pressure above drag presses the ends."""
    tracked = state.tracked
    phase = tracked.phase
    state = replace(
        state, tracked=replace(tracked, phase=None, levels=None, high=False, least_bar=least_bar), starts={}
    )
    if phase is None:
        return state, ()
    change = PhaseChanged(
        before=phase, after=None, cause="drag_stroke", at_s=now_s, seen_at_s=now_s, withdrawn=True
    )
    return state, (change,)
