"""The live phase of a joint: provisional, within a second or two, for the operator's eyes.

The boundaries that are judged come from `detect` over the whole curve; this only has to be in the right
second and to say so when it was wrong.
"""

from dataclasses import dataclass, replace
from statistics import median

from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.phases.cue_checks import CHECKS, left_on_pressure, tolerance
from logger.phases.levels import levels_from
from logger.phases.tracked import Tracked
from logger.phases.transitions import TRANSITIONS, Cue, cues_in

RECENT_S = 4.0
SMOOTH_S = 0.45
_PRESSED = {Phase.BEAD_UP, Phase.COOLING}
GAP_S = 2.5
"""Pressure that stays away for longer than this may have missed a phase; twice the slowest sampling."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the live phase: from, to, why, and when what caused it began."""

    before: Phase | None
    after: Phase | None
    cue: Cue
    at_s: float


def observe(state: Tracked, sample: Sample) -> tuple[Tracked, Change | None]:
    """Take one sample; return the new state and the change of phase it brought, if any."""
    recent = _recent(state.recent, sample)
    plate_in = state.plate_in if sample.plate_in is None else sample.plate_in
    if sample.pressure_bar is None:
        return replace(state, recent=recent, plate_in=plate_in), None
    last_s = state.pressure_at_s if state.pressure_at_s is not None else sample.t_s
    state = replace(
        state,
        recent=recent,
        plate_in=plate_in,
        smooth_bar=_smooth_bar(recent, sample.t_s - SMOOTH_S),
        pressure_at_s=sample.t_s,
        gap_end_s=sample.t_s if sample.t_s - last_s > GAP_S else state.gap_end_s,
    )
    state = _with_zone(_with_levels(state), sample.t_s)
    for cue in cues_in(state.phase):
        at_s = CHECKS[cue](state)
        if at_s is not None:
            return _enter(state, cue, at_s)
    return _remember(state), None


def _recent(recent: tuple[Sample, ...], sample: Sample) -> tuple[Sample, ...]:
    horizon_s = sample.t_s - RECENT_S
    first = 0
    while first < len(recent) and recent[first].t_s < horizon_s:
        first += 1
    return (*recent[first:], sample)


def _smooth_bar(recent: tuple[Sample, ...], from_s: float) -> float:
    """Median of the last pressures; the newest sample has one."""
    bars = []
    for sample in reversed(recent):
        if sample.t_s < from_s:
            break
        if sample.pressure_bar is not None:
            bars.append(sample.pressure_bar)
    return median(bars)


def _with_levels(state: Tracked) -> Tracked:
    """Without a plan the thresholds grow with the highest pressure that was held."""
    if state.hints.joining_bar is not None:
        return state if state.levels else replace(state, levels=levels_from(0.0, state.hints))
    top = state.levels.top_bar if state.levels else 0.0
    if state.smooth_bar <= top * 1.05 or state.now_s - state.recent[0].t_s < 0.8 * RECENT_S:
        return state
    pressures = sorted(s.pressure_bar for s in state.recent if s.pressure_bar is not None)
    held = pressures[len(pressures) // 4]
    if held <= max(top * 1.05, state.least_bar):
        return state
    return replace(state, levels=levels_from(held, state.hints))


def _with_zone(state: Tracked, now_s: float) -> Tracked:
    levels = state.levels
    if levels is None or levels.enter_bar <= 0:
        return state
    bar = levels.leave_bar if state.high else levels.enter_bar
    high = state.smooth_bar > bar
    return state if high == state.high else replace(state, high=high, changed_s=now_s)


def _remember(state: Tracked) -> Tracked:
    """Keep what pressing and soak look like at rest, so that leaving them can be seen."""
    if state.phase in _PRESSED and state.now_s - state.since_s > 2.0:
        return state if state.smooth_bar <= state.peak_bar else replace(state, peak_bar=state.smooth_bar)
    if state.phase is not Phase.HEAT_SOAK or state.now_s - state.since_s < 3.0:
        return state
    if state.rest_mm is None and state.carriage_mm is not None:
        state = replace(state, rest_mm=state.carriage_mm)
    near = state.soak_bar is None or abs(state.smooth_bar - state.soak_bar) < tolerance(state)
    if not near:
        return state if state.away_s is not None else replace(state, away_s=state.now_s)
    level = state.smooth_bar if state.soak_bar is None else 0.95 * state.soak_bar + 0.05 * state.smooth_bar
    return replace(state, soak_bar=level, away_s=None)


def _enter(state: Tracked, cue: Cue, at_s: float) -> tuple[Tracked, Change]:
    after = TRANSITIONS[state.phase, cue]
    change = Change(state.phase, after, cue, at_s)
    was_pressed = state.phase is Phase.BEAD_UP or cue is Cue.TOO_SHORT
    keep_rest = after in (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP, Phase.HEAT_SOAK)
    since_s = state.cooled_from_s if cue is Cue.BACK_IN_COOLING else at_s
    if cue is Cue.BACK_AT_SOAK:
        since_s = state.since_s - state.soaked_s
    state = replace(
        state,
        phase=after,
        since_s=since_s,
        soaked_s=at_s - state.since_s if state.phase is Phase.HEAT_SOAK else state.soaked_s,
        cooled_from_s=since_s if after is Phase.COOLING else state.cooled_from_s,
        rest_mm=state.rest_mm if keep_rest or after is Phase.COOLING else state.carriage_mm,
        soak_bar=state.soak_bar if keep_rest and not was_pressed else None,
        pressed_bar=state.peak_bar if was_pressed else state.pressed_bar,
        away_s=None,
        left_on=cue is Cue.LET_DOWN and left_on_pressure(state),
        peak_bar=0.0,
        finished_at_s=at_s if cue is Cue.RELEASED else None,
    )
    return state, change
