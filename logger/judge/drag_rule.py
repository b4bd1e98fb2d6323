"""Drag as the curve shows it, beside the drag that was confirmed; the confirmed one governs."""

from logger.domain.judgement import Severity
from logger.domain.measures import DragMeasures
from logger.domain.phase import Phase
from logger.domain.source import Mark, Source
from logger.judge.case import NOTHING, Case, Outcome, at_least, at_most
from logger.judge.decision import Measured
from logger.phases.detect import Detection

FROM_S, TO_S = 1.2, 0.2
"""The stretch before contact with the plate in which the carriage travels at drag."""
BREAKAWAY_S = 8.0
"""Within this time before contact the closing stroke began; its peak broke the carriage away."""
LEAST_BAR = 0.3
FLAT_SHARE = 0.2
DIFFERS_SHARE = 0.2
DIFFERS_BAR = 0.5

BESIDE = Source(mark=Mark.PRACTICE, text="remark only, the confirmed drag governs")
UNEVEN = Source(mark=Mark.PRACTICE, text="remark only, the carriage did not run evenly")


def drag_measures(detection: Detection, confirmed_bar: float | None) -> DragMeasures:
    """Read the closing stroke just before bead-up: it is the one after the last facing, on this set-up.

    Its plateau is no drag where it is not flat; then only the spread is told.
    """
    start_s = next(span for span in detection.spans if span.phase is Phase.BEAD_UP).start.at_s
    nothing = DragMeasures(
        confirmed_bar=confirmed_bar,
        detected_bar=None,
        spread_bar=None,
        breakaway_bar=None,
        measured_at_s=None,
    )
    if start_s is None:
        return nothing
    stroke = detection.view.pressure.window(start_s - FROM_S, start_s - TO_S)
    if len(stroke) < 3:
        return nothing
    mean_bar = sum(stroke.values) / len(stroke)
    spread_bar = max(stroke.values) - min(stroke.values)
    if mean_bar < max(LEAST_BAR, 3 * detection.view.noise):
        return nothing
    flat = spread_bar < max(6 * detection.view.noise, FLAT_SHARE * mean_bar)
    earlier = detection.view.pressure.window(start_s - BREAKAWAY_S, start_s - FROM_S)
    peak_bar = max(earlier.values, default=mean_bar)
    broke = flat and peak_bar > mean_bar + max(6 * detection.view.noise, FLAT_SHARE * mean_bar)
    return DragMeasures(
        confirmed_bar=confirmed_bar,
        detected_bar=round(mean_bar, 3) if flat else None,
        spread_bar=round(spread_bar, 3),
        breakaway_bar=round(peak_bar, 3) if broke else None,
        measured_at_s=round(start_s - (FROM_S + TO_S) / 2, 3) if flat else None,
    )


def drag(case: Case) -> Outcome:
    """Remark a plateau that differs from the confirmed drag: measured with another pipe, or before facing.

    A stroke too uneven to read is a remark too.
    """
    seen = drag_measures(case.detection, case.plan.drag_pressure_bar)
    confirmed_bar, contact_s = seen.confirmed_bar, case.span(Phase.BEAD_UP).start.at_s
    if confirmed_bar is None or seen.spread_bar is None:
        return NOTHING
    room_bar = max(DIFFERS_BAR, DIFFERS_SHARE * confirmed_bar)
    if seen.detected_bar is None:
        uneven = at_most("bead_up.drag.uneven", room_bar, "bar", UNEVEN, Severity.REMARK)
        return uneven.check(Measured(seen.spread_bar), contact_s, contact_s)
    above = at_most("bead_up.drag.high", confirmed_bar + room_bar, "bar", BESIDE, Severity.REMARK)
    below = at_least("bead_up.drag.low", confirmed_bar - room_bar, "bar", BESIDE, Severity.REMARK)
    measured = Measured(seen.detected_bar)
    return above.check(measured, contact_s, contact_s) + below.check(measured, contact_s, contact_s)
