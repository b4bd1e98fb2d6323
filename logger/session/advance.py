"""One pure function advances a joint: recorder, re-judging and tests all call it."""

from collections.abc import Iterable
from dataclasses import replace

from logger.domain.event import BeadNotConfirmed, Event, JointEnded
from logger.domain.heat_through import heat_read
from logger.domain.judgement import Judgement
from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.judge.judge import judge
from logger.phases.cue_checks import may_come_back_until_s
from logger.phases.tracker import observe
from logger.session.commands import confirm_bead, confirm_drag
from logger.session.progress import entered, fit_due, watch_drag
from logger.session.state import (
    Abort,
    Command,
    ConfirmBead,
    ConfirmDrag,
    Finish,
    SessionState,
    Setting,
    opened,
)

TAIL_S = 33.0
"""A release counts as final once pressure has stayed off for this long."""
OPENED_MM = 5.0
_PLATE_LEFT = (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP, Phase.COOLING)
TAIL_UNKNOWN_S = 180.0
"""Without a plan what was released may have been a long bead-up, and this its soak."""


def advance(state: SessionState, item: Sample | Command) -> tuple[SessionState, tuple[Event, ...]]:
    """Take one sample or command; return the new state and what happened. An ended joint stays as it is."""
    if state.is_over:
        return state, ()
    match item:
        case Sample():
            return _observed(state, item)
        case Abort():
            return _end(state, "aborted", item.reason)
        case Finish():
            return _end(state, item.how, item.reason)
        case ConfirmDrag():
            return confirm_drag(state, item)
        case ConfirmBead():
            return confirm_bead(state, item)


def _observed(state: SessionState, sample: Sample) -> tuple[SessionState, tuple[Event, ...]]:
    tracked, change = observe(state.tracked, sample)
    plate = state.plate
    if plate is not None and sample.plate_temperature_degC is not None:
        plate = heat_read(plate, sample.t_s, sample.plate_temperature_degC)
    state = replace(state, tracked=tracked, samples=state.samples.appended(sample), plate=plate)
    events: tuple[Event, ...] = ()
    if change is not None:
        state, events = entered(state, change, sample.t_s)
    for step in (fit_due, watch_drag):
        state, new = step(state, sample.t_s)
        events += new
    if _is_done(state, sample.t_s):
        state, new = _end(state, "finished", "released")
        events += new
    return state, events


def _is_done(state: SessionState, now_s: float) -> bool:
    """Whether the pressure has stayed off for long enough after a whole cycle."""
    tracked = state.tracked
    if state.setting.plan is None:
        idle = tracked.phase is None and tracked.cooled_from_s > 0
        return idle and now_s > tracked.since_s + TAIL_UNKNOWN_S
    if tracked.finished_at_s is None:
        return False
    opened = tracked.opened_mm is not None and tracked.opened_mm > OPENED_MM
    last_s = tracked.finished_at_s if opened else max(tracked.finished_at_s, may_come_back_until_s(tracked))
    return now_s > last_s + TAIL_S


def _end(state: SessionState, how: str, reason: str) -> tuple[SessionState, tuple[Event, ...]]:
    ended = JointEnded(how=how, reason=reason, judgement=judgement_of(state))
    left = [state.starts[phase].at_s for phase in _PLATE_LEFT if phase in state.starts]
    unconfirmed = (BeadNotConfirmed(at_s=min(left)),) if left and state.bead is None else ()
    return replace(state, is_over=True), (*unconfirmed, ended)


def judgement_of(state: SessionState) -> Judgement:
    """Judge the curve as far as it goes."""
    return judged(state.setting, state.samples.rows())


def judged(setting: Setting, samples: Iterable[Sample]) -> Judgement:
    """Judge all the samples of a joint against what governed it at its end."""
    judgement = judge(
        samples,
        joint=setting.joint,
        plan=setting.plan,
        rig=setting.rig,
        origin=setting.origin,
        plate_known=setting.plate_known,
    )
    return replace(judgement, time_scale=setting.time_scale)


def run_through(setting: Setting, samples: Iterable[Sample]) -> tuple[SessionState, tuple[Event, ...]]:
    """Advance a new joint through samples that are already there, to its end or to theirs."""
    state = opened(setting)
    events: tuple[Event, ...] = ()
    for sample in samples:
        state, new = advance(state, sample)
        events += new
    return state, events
