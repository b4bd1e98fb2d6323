"""One check per cue: when what it stands for began, or None while it has not happened."""

from collections.abc import Callable
from math import inf
from statistics import median

from logger.domain.phase import Phase
from logger.phases.tracked import Tracked
from logger.phases.transitions import Cue

PRESSED_S = 1.0
LOW_S = 0.5
GONE_S = 2.0
RELEASED_S = 1.0
OPENED_MM = 1.5
ABANDONED_S = 150.0
SOAK_UNKNOWN_S = 15.0
SOAK_LONGEST_S = 250.0
"""A third of what is waited for where no soak is planned."""
BACK_S = 15.0
PARTIAL_SHARE = 0.2
LATE_S = 18.0
LATE_FACTOR = 3.0
STROKE_S = 3.0
"""What a stroke shows above joining pressure is gone within this; an alignment check holds it longer."""
COOLING_SHARE = 0.2
LOST_S = 10.0
"""Pressure lost for so long at most is the same cooling, whatever was planned."""
HIGHER = 1.25
PAUSE_S = 60.0
"""Stroke, facing and alignment check follow within less; what follows later may be a joint's cooling."""
RELEASED_SHARE = 0.3
"""Without a planned pressure: what stands below this share of the pressure held was released, not reduced."""
JOINED_SHARE = 0.55
"""Without a planned pressure: the least share of the bead-up's pressure at which a joint may be cooled."""
COOLING_UNKNOWN_S = 45.0
UNSEEN_SHARE = 0.6
"""A soak this far on, and pressed again without an opening seen, may be a joint being closed."""


def _in_zone_s(state: Tracked) -> float:
    return state.now_s - state.changed_s


def tolerance(state: Tracked) -> float:
    """How far the gauge may wander in the soak before it has left it, in bar."""
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
    if state.smooth_bar >= under_bar or state.peak_bar <= 0:
        return None
    from_s = state.now_s - 2.0
    part = [s.pressure_bar for s in state.recent if s.pressure_bar is not None and s.t_s > from_s]
    stays = max(part) < under_bar and _steady(state, 2.0)
    return state.now_s - 2.0 if stays else None


def _no_plate(state: Tracked) -> float | None:
    """No plate by its switch soon after, or the carriage drawn open at once: it was an alignment check."""
    if state.phase is Phase.CHANGEOVER:
        # Opened before the ends can have been heated, and not closed in time for a joint.
        late = state.soaked_s < _early_s(state) and state.now_s - state.since_s > _late_s(state)
        return state.now_s if late else None
    if state.left_on or state.now_s - state.since_s >= _early_s(state):
        return None
    opened = state.opened_mm is not None and state.opened_mm > 2 * OPENED_MM
    return state.now_s if opened or _plate_gone(state) else None


def left_on_pressure(state: Tracked) -> bool:
    """Whether a bead-up has lasted so long that its pressure was never let down for the soak."""
    return state.hints.soak_s is not None and state.now_s - state.since_s > UNSEEN_SHARE * state.hints.soak_s


def _plate_gone(state: Tracked) -> bool:
    """Whether the plate is out by its switch: for longer than it bounces, or than a plate is moved for."""
    since_s = state.now_s - GONE_S
    told = [s.plate_in for s in state.recent if s.plate_in is not None and s.t_s >= since_s]
    return len(told) > 1 and not any(told)


def _early_s(state: Tracked) -> float:
    """Before this, a soak cannot be over."""
    return 0.3 * state.hints.soak_s if state.hints.soak_s is not None else 10.0


def _ripe_s(state: Tracked) -> float:
    """From here on a soak may be over, though nobody saw the plate being left."""
    return UNSEEN_SHARE * state.hints.soak_s if state.hints.soak_s is not None else SOAK_UNKNOWN_S


def _late_s(state: Tracked) -> float:
    """A joint that was not closed within this time after its plate was left is none any more."""
    return max(LATE_S, LATE_FACTOR * (state.hints.changeover_max_s or 0.0))


def _left_plate(state: Tracked) -> float | None:
    if state.phase is Phase.BEAD_UP:
        # A plate does not leave under pressure: what happened in between was not seen.
        if _plate_gone(state):
            return state.now_s
        if not left_on_pressure(state):
            return None
    if state.opened_mm is not None and state.rest_mm is not None:
        return state.now_s if state.opened_mm > OPENED_MM else None
    ripe = state.now_s - state.since_s > _ripe_s(state)
    if _plate_gone(state) or (ripe and state.plate_in is False):
        return state.now_s
    if state.phase is Phase.BEAD_UP:
        return None
    away = state.away_s is not None and state.now_s - state.away_s >= LOW_S
    return state.away_s if away and ripe else None


def _closed_again(state: Tracked) -> bool:
    """Whether the carriage has stood for seconds where it stood in the soak: the plate is in."""
    rest_mm, since_s = state.rest_mm, state.now_s - GONE_S
    if rest_mm is None or state.now_s - state.since_s < GONE_S:
        return False
    told = [s.carriage_mm for s in state.recent if s.carriage_mm is not None and s.t_s >= since_s]
    return len(told) > 1 and all(abs(mm - rest_mm) < OPENED_MM for mm in told)


def _back_at_soak(state: Tracked) -> float | None:
    """The faces stand where they stood at the plate, or the gauge has long stood at soak level again."""
    if state.carriage_mm is not None:
        return state.since_s if _closed_again(state) and state.plate_in is not False else None
    if state.soak_bar is None or state.now_s - state.since_s < BACK_S:
        return None
    near = all(
        abs(s.pressure_bar - state.soak_bar) < tolerance(state)
        for s in state.recent
        if s.pressure_bar is not None
    )
    return state.since_s if near else None


def _rising(state: Tracked) -> float | None:
    levels = state.levels
    if levels is None:
        return None
    bar = levels.base_bar + 0.25 * levels.step_bar if state.hints.drag_bar is not None else levels.leave_bar
    if state.hints.joining_bar is None and state.pressed_bar > 0:
        bar = JOINED_SHARE * state.pressed_bar
    if state.phase is Phase.HEAT_SOAK:
        fresh = state.high and state.changed_s > state.since_s and _in_zone_s(state) >= 2 * PRESSED_S
        return state.changed_s if fresh else None
    closed = state.opened_mm is None or state.opened_mm < OPENED_MM
    return state.now_s if state.smooth_bar > bar and closed else None


def _pressed_again(state: Tracked) -> float | None:
    if state.phase is Phase.CHANGEOVER:
        # Pressed with the faces still apart: on a plate, or a facer; not the joint being closed.
        pressed = state.high and _in_zone_s(state) >= PRESSED_S and state.soaked_s < _early_s(state)
        return state.changed_s if pressed and (state.opened_mm or 0.0) > OPENED_MM else None
    soak_s = state.changed_s - state.since_s
    closing = state.left_on and soak_s < _late_s(state)
    early = 0.0 < soak_s < max(_ripe_s(state), _early_s(state)) and not closing
    return state.changed_s if state.high and early and _in_zone_s(state) >= PRESSED_S else None


def _pressed_higher(state: Tracked) -> float | None:
    """Without a planned pressure, soon after: a joint is mostly cooled at its bead-up pressure or less."""
    if state.hints.joining_bar is not None or state.levels is None or not state.high:
        return None
    low_s = state.changed_s - state.since_s if state.phase is Phase.HEAT_SOAK else state.soaked_s
    if low_s > PAUSE_S:
        return None
    return state.changed_s if state.levels.top_bar > HIGHER * state.pressed_bar > 0 else None


def _in_band(state: Tracked) -> float | None:
    band = state.hints.joining_band
    if band is not None and band.min is not None and state.smooth_bar >= band.min:
        return state.now_s
    if state.hints.joining_bar is None and not state.high:
        joined = state.smooth_bar > JOINED_SHARE * state.pressed_bar > 0
        return state.now_s if joined and _steady(state, 3.0) else None
    settled = state.high and _in_zone_s(state) > 2.0 and _steady(state, 1.5)
    return state.now_s if settled else None


def _steady(state: Tracked, over_s: float) -> bool:
    from_s = state.now_s - over_s
    part = [s.pressure_bar for s in state.recent if s.pressure_bar is not None and s.t_s >= from_s]
    half = len(part) // 2
    step = state.levels.step_bar if state.levels else 0.0
    return half > 1 and abs(median(part[:half]) - median(part[half:])) < 0.03 * step


def _released(state: Tracked) -> float | None:
    levels = state.levels
    if levels is None or state.high:
        return None
    bar = 0.6 * levels.base_bar if levels.base_bar > 0.3 * levels.step_bar else levels.leave_bar
    if state.hints.joining_bar is None:
        bar = RELEASED_SHARE * max(state.peak_bar, state.pressed_bar)
    lowest = state.hints.lowest_cooling_bar
    if levels.base_bar <= 0.3 * levels.step_bar and lowest is not None and lowest < levels.leave_bar:
        bar = levels.base_bar + 0.5 * (lowest - levels.base_bar)
    from_s = state.now_s - RELEASED_S
    below = [s for s in state.recent if s.pressure_bar is not None and s.t_s >= from_s]
    released = state.now_s - state.changed_s >= RELEASED_S and all(
        (s.pressure_bar or 0.0) < bar for s in below
    )
    return max(state.changed_s, state.now_s - RELEASED_S) if released else None


def _back_in_cooling(state: Tracked) -> float | None:
    """Pressure back at once, or within the planned cooling; nothing was opened meanwhile."""
    released_s = state.finished_at_s
    if released_s is None or not state.high or _in_zone_s(state) < PRESSED_S:
        return None
    opened = state.plate_in is True or (state.opened_mm is not None and state.opened_mm > 2 * OPENED_MM)
    return state.changed_s if not opened and state.changed_s < may_come_back_until_s(state) else None


def may_come_back_until_s(state: Tracked) -> float:
    """Up to when pressure that was released may be the same cooling again; -inf where none was."""
    released_s, planned_s = state.finished_at_s, state.hints.cooling_s
    if released_s is None:
        return -inf
    done_s = state.cooled_from_s + planned_s if planned_s is not None else -inf
    return max(done_s, released_s + LOST_S) if released_s < done_s or planned_s is None else released_s


def _too_short(state: Tracked) -> float | None:
    planned_s = state.hints.cooling_s
    least_s = COOLING_SHARE * planned_s if planned_s is not None else COOLING_UNKNOWN_S
    released_s = _released(state)
    return released_s if released_s is not None and released_s - state.since_s < least_s else None


def _fell_back(state: Tracked) -> float | None:
    """Low again almost at once: the opening stroke at its stop, or a carriage that broke loose."""
    soon = 0.0 < state.changed_s - state.since_s < STROKE_S and not state.high
    return state.changed_s if soon and _in_zone_s(state) >= LOW_S else None


def _abandoned(state: Tracked) -> float | None:
    idle_s = state.now_s - max(state.since_s, state.changed_s)
    allowed_s = ABANDONED_S
    if state.phase is Phase.HEAT_SOAK:
        allowed_s += 3.0 * (state.hints.soak_s or SOAK_LONGEST_S)
    return state.now_s if not state.high and idle_s > allowed_s else None


CHECKS: dict[Cue, Callable[[Tracked], float | None]] = {
    Cue.PRESSED: _pressed,
    Cue.LET_DOWN: _let_down,
    Cue.NO_PLATE: _no_plate,
    Cue.LEFT_PLATE: _left_plate,
    Cue.BACK_AT_SOAK: _back_at_soak,
    Cue.RISING: _rising,
    Cue.PRESSED_AGAIN: _pressed_again,
    Cue.PRESSED_HIGHER: _pressed_higher,
    Cue.IN_BAND: _in_band,
    Cue.BACK_IN_COOLING: _back_in_cooling,
    Cue.FELL_BACK: _fell_back,
    Cue.TOO_SHORT: _too_short,
    Cue.RELEASED: _released,
    Cue.ABANDONED: _abandoned,
}
