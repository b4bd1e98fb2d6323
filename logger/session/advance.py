"""One pure function advances a joint: recorder, re-judging and tests all call it."""

from collections.abc import Iterable
from dataclasses import replace

from logger.domain.event import Event, JointEnded, PhaseChanged
from logger.domain.judgement import Judgement
from logger.domain.sample import Sample
from logger.judge.judge import judge
from logger.phases.tracker import observe
from logger.phases.transitions import Cue
from logger.session.state import Abort, Finish, SessionState, Setting, opened

TAIL_S = 33.0
"""A release counts as final once pressure has stayed off for this long."""
_IN_ERROR = {Cue.NO_PLATE, Cue.BACK_AT_SOAK, Cue.PRESSED_AGAIN, Cue.TOO_SHORT}


def advance(state: SessionState, item: Sample | Abort | Finish) -> tuple[SessionState, tuple[Event, ...]]:
    """Take one sample or command; return the new state and what happened. An ended joint stays as it is."""
    if state.is_over:
        return state, ()
    if isinstance(item, Abort):
        return _end(state, "aborted", item.reason)
    if isinstance(item, Finish):
        return _end(state, item.how, item.reason)
    tracked, change = observe(state.tracked, item)
    state = replace(state, tracked=tracked, samples=state.samples.appended(item))
    events: tuple[Event, ...] = ()
    if change is not None:
        events = (
            PhaseChanged(
                before=change.before,
                after=change.after,
                cause=change.cue,
                at_s=change.at_s,
                seen_at_s=item.t_s,
                withdrawn=change.cue in _IN_ERROR,
            ),
        )
    if tracked.finished_at_s is not None and item.t_s - tracked.finished_at_s > TAIL_S:
        state, ended = _end(state, "finished", "released")
        events += ended
    return state, events


def _end(state: SessionState, how: str, reason: str) -> tuple[SessionState, tuple[Event, ...]]:
    judgement = judgement_of(state)
    return replace(state, is_over=True), (JointEnded(how=how, reason=reason, judgement=judgement),)


def judgement_of(state: SessionState) -> Judgement:
    """Judge the curve as far as it goes."""
    setting = state.setting
    return judge(
        state.samples.rows(),
        joint=setting.joint,
        plan=setting.plan,
        rig=setting.rig,
        origin=setting.origin,
        time_scale=setting.time_scale,
    )


def run_through(setting: Setting, samples: Iterable[Sample]) -> tuple[SessionState, tuple[Event, ...]]:
    """Advance a new joint through samples that are already there, to its end or to theirs."""
    state = opened(setting)
    events: tuple[Event, ...] = ()
    for sample in samples:
        state, new = advance(state, sample)
        events += new
    return state, events
