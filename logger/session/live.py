"""What an operator may be told of a joint in progress: the phase, since when, and what time is left."""

from collections.abc import Iterator
from dataclasses import dataclass

from logger.domain.event import BeadConfirmed
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.session.placed import Placed
from logger.session.state import SessionState

UNSETTLED_S = 5.0
"""After a gap in the pressure the phase may be another one by now: so long it is not relied on."""

OLD_DATA = "old_data"
GAP = "gap"
SOAK_UNDER_PRESSURE = "soak_may_be_under_pressure"


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLimit:
    """A planned time of the phase that is on, counted from one edge of its start's interval.

    A least time counts from the late edge, a greatest time from the early edge. `elapsed_s` and `remaining_s`
    (negative once past) are None while the phase is unsure or the data old. `then` says what the end of a
    least time means; nothing here ever prompts the let-down: bead-up ends in `check_bead`.
    """

    is_max: bool
    step: int | None
    limit_s: float
    from_s: float
    elapsed_s: float | None
    remaining_s: float | None
    then: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LivePhase:
    """The phase now; `start` is None in preparation and after the release. `unsure` is a code, or empty."""

    phase: Phase | None
    start: Placed | None
    unsure: str
    limits: tuple[TimeLimit, ...]
    bead: BeadConfirmed | None


_THEN: dict[Phase, str] = {
    Phase.BEAD_UP: "check_bead",
    Phase.HEAT_SOAK: "soak_time_reached",
    Phase.COOLING: "cooling_time_reached",
}


def live_of(state: SessionState, now_s: float, *, is_old: bool) -> LivePhase:
    """Say where the joint stands at `now_s` on its own clock; `is_old` when no pressure has come lately."""
    phase = state.tracked.phase
    start = None if phase is None else state.starts.get(phase)
    unsure = _unsure(state, start, now_s, is_old=is_old)
    plan = state.setting.plan
    limits: tuple[TimeLimit, ...] = ()
    if phase is not None and start is not None and plan is not None:
        counted_to_s = None if unsure else now_s
        limits = tuple(_limits(plan, phase, start, counted_to_s))
    return LivePhase(phase=phase, start=start, unsure=unsure, limits=limits, bead=state.bead)


def _unsure(state: SessionState, start: Placed | None, now_s: float, *, is_old: bool) -> str:
    if is_old:
        return OLD_DATA
    tracked = state.tracked
    if tracked.phase is None or start is None:
        return ""
    if tracked.gap_end_s is not None and now_s - tracked.gap_end_s < UNSETTLED_S:
        return GAP
    if tracked.phase is Phase.HEAT_SOAK and tracked.left_on:
        return SOAK_UNDER_PRESSURE
    return start.unsure


def _limits(plan: JointPlan, phase: Phase, start: Placed, now_s: float | None) -> Iterator[TimeLimit]:
    """The least and greatest times of the phase's steps; a later step counts on from the ones before it."""
    before_s = 0.0
    for step in plan.steps_of(phase):
        band = step.duration_s
        least_s = band.min or band.target
        if least_s is not None and phase in _THEN:
            yield _limit(start.late_s, before_s + least_s, now_s, is_max=False, step=step.step, phase=phase)
        if band.max is not None:
            yield _limit(start.early_s, before_s + band.max, now_s, is_max=True, step=step.step, phase=phase)
        before_s += least_s or 0.0


def _limit(
    from_s: float, limit_s: float, now_s: float | None, *, is_max: bool, step: int | None, phase: Phase
) -> TimeLimit:
    elapsed_s = None if now_s is None else now_s - from_s
    return TimeLimit(
        is_max=is_max,
        step=step,
        limit_s=limit_s,
        from_s=from_s,
        elapsed_s=elapsed_s,
        remaining_s=None if elapsed_s is None else limit_s - elapsed_s,
        then="limit_passed" if is_max and phase is not Phase.BEAD_UP else _THEN[phase],
    )
