"""What a person may say of an open joint, and when it is too late for it."""

from dataclasses import replace

from logger.domain.event import BeadConfirmed, DragConfirmed, Event
from logger.domain.phase import Phase
from logger.phases.levels import hints_of
from logger.session.state import ConfirmBead, ConfirmDrag, SessionState

_DRAG_IN = {None, Phase.BEAD_UP, Phase.HEAT_SOAK}
"""An alignment check may have passed for a bead-up; the record says in which phase the drag was given."""
_BEAD_IN = {Phase.BEAD_UP, Phase.HEAT_SOAK}


def why_no_drag(state: SessionState) -> str:
    """Why a drag cannot be confirmed now, as a code; empty when it can.

    Limits are fixed before the plate is left, so that no drag is chosen to suit a curve.
    """
    if state.is_over:
        return "joint_over"
    if state.setting.plan is None:
        return "no_plan"
    return "" if state.tracked.phase in _DRAG_IN and state.released is None else "too_late"


def why_no_bead(state: SessionState) -> str:
    """Why the bead cannot be confirmed now, as a code; empty when it can."""
    if state.is_over:
        return "joint_over"
    return "" if state.tracked.phase in _BEAD_IN else "no_bead_up"


def confirm_drag(state: SessionState, command: ConfirmDrag) -> tuple[SessionState, tuple[Event, ...]]:
    """Take the confirmed drag: plan and detection follow it. What comes too late changes nothing."""
    if why_no_drag(state):
        return state, ()
    offered = state.strokes.counts
    event = DragConfirmed(
        pressure_bar=command.pressure_bar,
        by=command.by,
        at_s=command.at_s,
        offered_bar=None if offered is None else offered.pressure_bar,
        phase=state.tracked.phase,
    )
    tracked = replace(state.tracked, hints=hints_of(command.plan, state.setting.rig), levels=None)
    setting = replace(state.setting, plan=command.plan)
    return replace(state, setting=setting, tracked=tracked, drag=event), (event,)


def confirm_bead(state: SessionState, command: ConfirmBead) -> tuple[SessionState, tuple[Event, ...]]:
    """Take the word of whoever saw the bead. What comes too late, or twice, changes nothing."""
    if why_no_bead(state) or state.bead is not None:
        return state, ()
    event = BeadConfirmed(by=command.by, at_s=command.at_s)
    return replace(state, bead=event), (event,)
