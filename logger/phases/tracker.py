"""The live phase of a joint: provisional, within a second or two, for the operator's eyes.

The boundaries that are judged come from `detect` over the whole curve; this only has to be in the right
second and to say so when it was wrong.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import median

from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.phases.levels import NO_HINTS, Hints, Levels, levels_from
from logger.phases.transitions import TRANSITIONS, Cue, cues_in

RECENT_S = 4.0
SMOOTH_S = 0.45
PRESSED_S = 1.0
LOW_S = 0.5
RELEASED_S = 1.0
OPENED_MM = 1.5
ABANDONED_S = 150.0
SOAK_UNKNOWN_S = 15.0
BACK_S = 15.0
RESUMED_S = 30.0
PARTIAL_SHARE = 0.2
COOLING_SHARE = 0.2
COOLING_UNKNOWN_S = 45.0
UNSEEN_SHARE = 0.6
"""A soak this far on, and pressed again without an opening seen, may be a joint being closed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracked:
    """What the tracker remembers. `phase` is None outside a heating cycle; `since_s` when that began.

    `finished_at_s` is the time of the release that ended a whole cycle; `left_on` says that the pressure was
    let down so late that the soak may have been under pressure: what follows may be the joint being closed.
    """

    hints: Hints = NO_HINTS
    levels: Levels | None = None
    recent: tuple[Sample, ...] = ()
    smooth_bar: float = 0.0
    high: bool = False
    changed_s: float = 0.0
    phase: Phase | None = None
    since_s: float = 0.0
    rest_mm: float | None = None
    peak_bar: float = 0.0
    soak_bar: float | None = None
    away_s: float | None = None
    left_on: bool = False
    plate_in: bool | None = None
    finished_at_s: float | None = None

    @property
    def now_s(self) -> float:
        return self.recent[-1].t_s if self.recent else 0.0

    @property
    def carriage_mm(self) -> float | None:
        return next((s.carriage_mm for s in reversed(self.recent) if s.carriage_mm is not None), None)

    @property
    def opened_mm(self) -> float | None:
        """How far the carriage has moved apart since it came to rest in this phase."""
        now = self.carriage_mm
        return None if now is None or self.rest_mm is None else now - self.rest_mm


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the live phase: from, to, why, and when what caused it began."""

    before: Phase | None
    after: Phase | None
    cue: Cue
    at_s: float


def observe(state: Tracked, sample: Sample) -> tuple[Tracked, Change | None]:
    """Take one sample; return the new state and the change of phase it brought, if any."""
    horizon_s = sample.t_s - RECENT_S
    recent = (*(s for s in state.recent if s.t_s >= horizon_s), sample)
    plate_in = state.plate_in if sample.plate_in is None else sample.plate_in
    state = replace(state, recent=recent, plate_in=plate_in)
    if sample.pressure_bar is None:
        return state, None
    state = _with_zone(_with_levels(state), sample.t_s)
    for cue in cues_in(state.phase):
        at_s = CHECKS[cue](state)
        if at_s is not None:
            return _enter(state, cue, at_s)
    return _remember(state), None


def _with_levels(state: Tracked) -> Tracked:
    """Without a plan the thresholds grow with the highest pressure that was held."""
    pressures = [s.pressure_bar for s in state.recent if s.pressure_bar is not None]
    smooth = median(
        s.pressure_bar for s in state.recent if s.pressure_bar is not None and s.t_s >= state.now_s - SMOOTH_S
    )
    state = replace(state, smooth_bar=smooth)
    if state.hints.joining_bar is not None:
        return state if state.levels else replace(state, levels=levels_from(0.0, state.hints))
    top = state.levels.top_bar if state.levels else 0.0
    if smooth <= top * 1.05 or state.now_s - state.recent[0].t_s < 0.8 * RECENT_S:
        return state
    held = sorted(pressures)[len(pressures) // 4]
    return replace(state, levels=levels_from(held, state.hints)) if held > top * 1.05 else state


def _with_zone(state: Tracked, now_s: float) -> Tracked:
    levels = state.levels
    if levels is None or levels.enter_bar <= 0:
        return state
    bar = levels.leave_bar if state.high else levels.enter_bar
    high = state.smooth_bar > bar
    return state if high == state.high else replace(state, high=high, changed_s=now_s)


def _remember(state: Tracked) -> Tracked:
    """Keep what bead-up and soak look like at rest, so that leaving them can be seen."""
    if state.phase is Phase.BEAD_UP and state.now_s - state.since_s > 2.0:
        return replace(state, peak_bar=max(state.peak_bar, state.smooth_bar))
    if state.phase is not Phase.HEAT_SOAK or state.now_s - state.since_s < 3.0:
        return state
    if state.rest_mm is None and state.carriage_mm is not None:
        state = replace(state, rest_mm=state.carriage_mm)
    near = state.soak_bar is None or abs(state.smooth_bar - state.soak_bar) < _tolerance(state)
    if not near:
        return state if state.away_s is not None else replace(state, away_s=state.now_s)
    level = state.smooth_bar if state.soak_bar is None else 0.95 * state.soak_bar + 0.05 * state.smooth_bar
    return replace(state, soak_bar=level, away_s=None)


def _enter(state: Tracked, cue: Cue, at_s: float) -> tuple[Tracked, Change]:
    after = TRANSITIONS[state.phase, cue]
    change = Change(state.phase, after, cue, at_s)
    keep_rest = after in (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP, Phase.HEAT_SOAK)
    state = replace(
        state,
        phase=after,
        since_s=at_s,
        rest_mm=state.rest_mm if keep_rest or after is Phase.COOLING else state.carriage_mm,
        soak_bar=state.soak_bar if keep_rest and cue is not Cue.LET_DOWN else None,
        away_s=None,
        left_on=cue is Cue.LET_DOWN and _left_on_pressure(state),
        peak_bar=0.0,
        finished_at_s=at_s if cue is Cue.RELEASED else None,
    )
    return state, change


def _in_zone_s(state: Tracked) -> float:
    return state.now_s - state.changed_s


def _tolerance(state: Tracked) -> float:
    step = state.levels.step_bar if state.levels else 0.0
    level = state.soak_bar or 0.0
    drag = state.hints.drag_bar
    moves = [abs(level)] + ([abs(drag - level)] if drag is not None else [])
    return max(0.06 * step, 0.2 * min(max(moves), step))


def _pressed(state: Tracked) -> float | None:
    long = state.high and _in_zone_s(state) >= PRESSED_S
    return state.changed_s if long and state.plate_in is not False else None


def _let_down(state: Tracked) -> float | None:
    """Low, or a good part of the way down and staying there: let down, though not far enough."""
    if not state.high:
        return state.changed_s if _in_zone_s(state) >= LOW_S else None
    step = state.levels.step_bar if state.levels else 0.0
    under_bar = state.peak_bar - PARTIAL_SHARE * step
    part = [s.pressure_bar for s in state.recent if s.pressure_bar is not None and s.t_s > state.now_s - 2.0]
    stays = state.peak_bar > 0 and max(part) < under_bar and _steady(state, 2.0)
    return state.now_s - 2.0 if stays else None


def _no_plate(state: Tracked) -> float | None:
    """No plate by its switch, or the carriage drawn open at once."""
    in_phase_s = state.now_s - state.since_s
    if state.plate_in is False and (state.phase is Phase.BEAD_UP or in_phase_s < _early_s(state)):
        return state.now_s
    opened = state.opened_mm is not None and state.opened_mm > 2 * OPENED_MM
    return state.now_s if state.phase is Phase.HEAT_SOAK and opened and in_phase_s < _early_s(state) else None


def _left_on_pressure(state: Tracked) -> bool:
    """Whether a bead-up has lasted so long that its pressure was never let down for the soak."""
    return state.hints.soak_s is not None and state.now_s - state.since_s > UNSEEN_SHARE * state.hints.soak_s


def _early_s(state: Tracked) -> float:
    """Before this, a soak cannot be over."""
    return 0.3 * state.hints.soak_s if state.hints.soak_s is not None else 10.0


def _left_plate(state: Tracked) -> float | None:
    if state.phase is Phase.BEAD_UP and not _left_on_pressure(state):
        return None
    if state.opened_mm is not None and state.rest_mm is not None:
        return state.now_s if state.opened_mm > OPENED_MM else None
    if state.plate_in is False:
        return state.now_s
    ripe_s = 0.5 * state.hints.soak_s if state.hints.soak_s is not None else SOAK_UNKNOWN_S
    if state.phase is Phase.BEAD_UP:
        return None
    away = state.away_s is not None and state.now_s - state.away_s >= LOW_S
    return state.away_s if away and state.now_s - state.since_s > ripe_s else None


def _back_at_soak(state: Tracked) -> float | None:
    """Only where the carriage cannot tell: the gauge has stood at soak level again for long."""
    if state.carriage_mm is not None or state.soak_bar is None or state.now_s - state.since_s < BACK_S:
        return None
    near = all(
        abs(s.pressure_bar - state.soak_bar) < _tolerance(state)
        for s in state.recent
        if s.pressure_bar is not None
    )
    return state.since_s if near else None


def _rising(state: Tracked) -> float | None:
    levels = state.levels
    if levels is None:
        return None
    bar = levels.base_bar + 0.25 * levels.step_bar if state.hints.drag_bar is not None else levels.leave_bar
    if state.phase is Phase.HEAT_SOAK:
        fresh = state.high and state.changed_s > state.since_s and _in_zone_s(state) >= 2 * PRESSED_S
        return state.changed_s if fresh else None
    closed = state.opened_mm is None or state.opened_mm < OPENED_MM
    return state.now_s if state.smooth_bar > bar and closed else None


def _pressed_again(state: Tracked) -> float | None:
    soak_s = state.changed_s - state.since_s
    unseen_s = UNSEEN_SHARE * state.hints.soak_s if state.hints.soak_s is not None else SOAK_UNKNOWN_S
    early = 0.0 < soak_s < max(unseen_s, _early_s(state)) and not state.left_on
    return state.changed_s if state.high and early and _in_zone_s(state) >= PRESSED_S else None


def _in_band(state: Tracked) -> float | None:
    band = state.hints.joining_band
    if band is not None and band.min is not None and state.smooth_bar >= band.min:
        return state.now_s
    settled = state.high and _in_zone_s(state) > 2.0 and _steady(state, 1.5)
    return state.now_s if settled else None


def _steady(state: Tracked, over_s: float) -> bool:
    part = [
        s.pressure_bar for s in state.recent if s.pressure_bar is not None and s.t_s >= state.now_s - over_s
    ]
    half = len(part) // 2
    step = state.levels.step_bar if state.levels else 0.0
    return half > 1 and abs(median(part[:half]) - median(part[half:])) < 0.03 * step


def _released(state: Tracked) -> float | None:
    levels = state.levels
    if levels is None or state.high:
        return None
    bar = 0.6 * levels.base_bar if levels.base_bar > 0.3 * levels.step_bar else levels.leave_bar
    lowest = state.hints.lowest_cooling_bar
    if levels.base_bar <= 0.3 * levels.step_bar and lowest is not None and lowest < levels.leave_bar:
        bar = levels.base_bar + 0.5 * (lowest - levels.base_bar)
    below = [s for s in state.recent if s.pressure_bar is not None and s.t_s >= state.now_s - RELEASED_S]
    released = state.now_s - state.changed_s >= RELEASED_S and all(
        (s.pressure_bar or 0.0) < bar for s in below
    )
    return max(state.changed_s, state.now_s - RELEASED_S) if released else None


def _too_short(state: Tracked) -> float | None:
    planned_s = state.hints.cooling_s
    least_s = COOLING_SHARE * planned_s if planned_s is not None else COOLING_UNKNOWN_S
    released_s = _released(state)
    return released_s if released_s is not None and released_s - state.since_s < least_s else None


def _abandoned(state: Tracked) -> float | None:
    idle_s = state.now_s - max(state.since_s, state.changed_s)
    allowed_s = ABANDONED_S
    if state.phase is Phase.HEAT_SOAK:
        allowed_s += 3.0 * (state.hints.soak_s or 600.0)
    return state.now_s if not state.high and idle_s > allowed_s else None


CHECKS: dict[Cue, Callable[[Tracked], float | None]] = {
    Cue.PRESSED: _pressed,
    Cue.LET_DOWN: _let_down,
    Cue.NO_PLATE: _no_plate,
    Cue.LEFT_PLATE: _left_plate,
    Cue.BACK_AT_SOAK: _back_at_soak,
    Cue.RISING: _rising,
    Cue.PRESSED_AGAIN: _pressed_again,
    Cue.IN_BAND: _in_band,
    Cue.TOO_SHORT: _too_short,
    Cue.RELEASED: _released,
    Cue.ABANDONED: _abandoned,
}
