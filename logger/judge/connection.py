"""Whether the gauge was connected to the cylinders: a line-side gauge behind a shut valve reads nothing.

A gauge ahead of a valve that the rig file declares, reading next to nothing in cooling, says nothing about
the pressure at the faces. It is told from a real release by the carriage alone: one that opens was released.
"""

from logger.domain.judgement import Verdict
from logger.domain.phase import Phase
from logger.domain.rig import GaugeSide
from logger.judge.case import Case
from logger.judge.windows import needed_s

NOT_DECLARED = "cooling.connection.not_declared"
NOTHING_SHARE = 0.1
"""Of the joining step: a gauge below this, and below drag, reads next to nothing."""
OPENED_MM = 3.0


def can_be_shut_off(case: Case) -> bool:
    """Whether the rig file says that something can part this gauge from the cylinders."""
    rig = case.rig
    return rig is not None and rig.check_valve is True and rig.gauge_side is not GaugeSide.CLOSING


def reads_nothing(case: Case, bar: float) -> bool:
    """Whether a gauge pressure is what a gauge shows that is connected to nothing."""
    low_bar = NOTHING_SHARE * case.detection.view.levels.step_bar
    drag_bar = case.plan.drag_pressure_bar
    return bar < low_bar if not drag_bar else bar < min(max(low_bar, 0.3 * drag_bar), 0.8 * drag_bar)


def lost_connection(case: Case) -> bool:
    """Whether what looks like an early release may be a valve that was shut or a hose uncoupled."""
    span = case.span(Phase.COOLING)
    if not can_be_shut_off(case) or span.start.at_s is None or span.end.at_s is None:
        return False
    due_s = span.start.at_s + sum(needed_s(step) for step in case.plan.steps_of(Phase.COOLING))
    if span.end.at_s >= due_s:
        return False
    return not _opened_before(case, span.end.at_s, due_s)


def _opened_before(case: Case, from_s: float, due_s: float) -> bool:
    way = case.detection.trace.carriage.window(from_s, due_s).values
    return bool(way) and max(way) - way[0] >= OPENED_MM


def is_undeclared(case: Case, codes: set[str], verdict: Verdict) -> bool:
    """Whether pressure that vanished in cooling is taken at its word for want of a declaration."""
    rig = case.rig
    declared = rig is not None and (rig.gauge_side is GaugeSide.CLOSING or rig.check_valve is not None)
    decided = bool(codes & {"cooling.duration.short", "cooling.pressure.low"})
    return verdict is Verdict.NONCONFORMING and decided and not declared
