"""Ends heated a second time: an earlier pressing on the plate with no facing before this joint's own.

The plate switch tells a heating from an alignment check; without one, the carriage and the plate's dip do.
"""

from logger.domain.phase import Phase
from logger.domain.source import Mark, Source
from logger.judge.case import NOTHING, Case, Outcome
from logger.judge.contact import (
    EDGE_S,
    MOVED_MM,
    SETTLING_S,
    SHORT_MM,
    contact_finding,
    reading_at,
)
from logger.judge.excursions import smoothed
from logger.phases.runs import Run, high_runs

FACING_MIN_S = 10.0
DIP_DEGC = 1.0
DIP_S = 30.0

FACED = Source(mark=Mark.PRACTICE, text="ends that touched the plate are faced before they are heated again")


def restarted(case: Case) -> Outcome:
    """An earlier pressing on the plate, of no other joint in this curve, with no facing after it."""
    start_s = case.span(Phase.BEAD_UP).start.at_s
    cycle, trace = case.detection.cycle, case.detection.trace
    if start_s is None or cycle is None or not (len(trace.plate_in) or len(trace.carriage)):
        return NOTHING
    others = case.detection.others
    free_s = max((other.end_s for other in others if other.end_s < start_s), default=float("-inf"))
    before = trace.pressure.window(max(free_s, trace.pressure.t_s[0]), start_s - EDGE_S)
    earlier = [run for run in high_runs(before, case.detection.view.levels) if not run.open_end]
    # A carriage that stuck on its way to the plate pressed nothing: what counts is what left the plate again.
    heated = (run for run in reversed(earlier) if _is_heating(case, run))
    run = next((run for run in heated if _left_plate(case, run.end_s, start_s)), None)
    if run is None or _faced_between(case, run.end_s, start_s):
        return NOTHING
    finding = contact_finding("bead_up.restart.unfaced", None, run.start_s, start_s, FACED, is_fault=True)
    return Outcome(findings=(finding,))


def _is_heating(case: Case, run: Run) -> bool:
    """By the plate switch; without one, by carriage at this joint's heating position and the plate's dip."""
    trace = case.detection.trace
    switch = trace.plate_in.mean_between(run.start_s, run.end_s)
    if switch is not None:
        return switch > 0.5
    at_mm = reading_at(trace.carriage, run.end_s - EDGE_S)
    soak_s = case.span(Phase.HEAT_SOAK).start.at_s
    joint_mm = None if soak_s is None else reading_at(trace.carriage, soak_s - EDGE_S)
    if at_mm is None or joint_mm is None or abs(at_mm - joint_mm) > SHORT_MM:
        return False
    before = trace.plate_temperature.mean_between(run.start_s - DIP_S / 3, run.start_s)
    after = trace.plate_temperature.window(run.start_s, run.start_s + DIP_S).values
    return before is not None and bool(after) and before - min(after) > DIP_DEGC


def _left_plate(case: Case, from_s: float, to_s: float) -> bool:
    """Whether the ends came off the plate: a dip in pressure, a stroke that jerked, is one heating."""
    trace = case.detection.trace
    way = trace.carriage.window(from_s, to_s).values
    opened = bool(way) and max(way) - way[0] >= MOVED_MM
    return opened or 0.0 in trace.plate_in.window(from_s, to_s).values


def _faced_between(case: Case, from_s: float, to_s: float) -> bool:
    """Closing pressure held for seconds with the plate out and the faces apart: a facer ran between them."""
    trace, drag_bar = case.detection.trace, case.plan.drag_pressure_bar
    touch_s = case.span(Phase.PRESSURE_BUILD_UP).start.at_s
    touching_mm = None if touch_s is None else reading_at(trace.carriage, touch_s + SETTLING_S)
    least_bar = 0.5 * drag_bar if drag_bar else 0.05 * case.detection.view.levels.step_bar
    begin_s: float | None = None
    pressure = trace.pressure.window(from_s, to_s)
    for t_s, bar in zip(pressure.t_s, smoothed(pressure).series.values, strict=True):
        plate_in = reading_at(trace.plate_in, t_s)
        at_mm = reading_at(trace.carriage, t_s)
        apart = at_mm is None or touching_mm is None or at_mm > touching_mm + MOVED_MM
        if bar > least_bar and apart and not plate_in:
            begin_s = t_s if begin_s is None else begin_s
            if t_s - begin_s >= FACING_MIN_S:
                return True
        else:
            begin_s = None
    return False
