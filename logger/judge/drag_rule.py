"""Drag as the curve shows it, beside the drag that was confirmed; the confirmed one governs."""

from logger.domain.judgement import Severity
from logger.domain.phase import Phase
from logger.domain.source import Mark, Source
from logger.judge.case import NOTHING, Case, Outcome, at_least, at_most
from logger.judge.decision import Measured
from logger.phases.detect import Detection

FROM_S, TO_S = 1.2, 0.2
"""The stretch before contact with the plate in which the carriage travels at drag."""
LEAST_BAR = 0.3
FLAT_SHARE = 0.2
DIFFERS_SHARE = 0.2
DIFFERS_BAR = 0.5

BESIDE = Source(mark=Mark.PRACTICE, text="remark only, the confirmed drag governs")


def detected_drag_bar(detection: Detection) -> float | None:
    """Mean gauge pressure of the closing stroke just before bead-up; None where it is no flat plateau."""
    start_s = next(span for span in detection.spans if span.phase is Phase.BEAD_UP).start.at_s
    if start_s is None:
        return None
    stroke = detection.view.pressure.window(start_s - FROM_S, start_s - TO_S)
    if len(stroke) < 3:
        return None
    mean_bar = sum(stroke.values) / len(stroke)
    spread_bar = max(stroke.values) - min(stroke.values)
    if mean_bar < max(LEAST_BAR, 3 * detection.view.noise):
        return None
    flat = spread_bar < max(6 * detection.view.noise, FLAT_SHARE * mean_bar)
    return round(mean_bar, 3) if flat else None


def drag(case: Case) -> Outcome:
    """Remark a plateau that differs from the confirmed drag: measured with another pipe, or before facing."""
    confirmed_bar, seen_bar = case.plan.drag_pressure_bar, detected_drag_bar(case.detection)
    if confirmed_bar is None or seen_bar is None:
        return NOTHING
    room_bar = max(DIFFERS_BAR, DIFFERS_SHARE * confirmed_bar)
    contact_s = case.span(Phase.BEAD_UP).start.at_s
    above = at_most("bead_up.drag.high", confirmed_bar + room_bar, "bar", BESIDE, Severity.REMARK)
    below = at_least("bead_up.drag.low", confirmed_bar - room_bar, "bar", BESIDE, Severity.REMARK)
    measured = Measured(seen_bar)
    return above.check(measured, contact_s, contact_s) + below.check(measured, contact_s, contact_s)
