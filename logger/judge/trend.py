"""What is followed over the joints of a rig or an operator."""

from enum import StrEnum

from logger.domain.judgement import Judgement, PhaseSpan
from logger.domain.phase import Phase


class Trended(StrEnum):
    """A measure of one joint, unit in the name."""

    DRAG_BAR = "drag_bar"
    PLATE_AT_CONTACT_DEGC = "plate_at_contact_degC"
    CHANGEOVER_S = "changeover_s"
    PRESSURE_BUILD_UP_S = "pressure_build_up_s"
    LEAK_DOWN_BAR_PER_MIN = "leak_down_bar_per_min"


def value_of(judgement: Judgement, what: Trended) -> float | None:
    """Return the measure of one joint, None where its curve does not show it."""
    measures = judgement.measures
    match what:
        case Trended.CHANGEOVER_S:
            return _span(judgement, Phase.CHANGEOVER).duration_s
        case Trended.PRESSURE_BUILD_UP_S:
            return _span(judgement, Phase.PRESSURE_BUILD_UP).duration_s
        case Trended.DRAG_BAR:
            return judgement.drag_detected_bar
        case Trended.PLATE_AT_CONTACT_DEGC:
            return measures.plate.at_contact_degC if measures else None
        case Trended.LEAK_DOWN_BAR_PER_MIN:
            steps = measures.steps if measures else ()
            rates = [s.leak_down_bar_per_min for s in steps if s.phase is Phase.COOLING]
            return next((rate for rate in reversed(rates) if rate is not None), None)


def _span(judgement: Judgement, phase: Phase) -> PhaseSpan:
    return next(span for span in judgement.phases if span.phase is phase)
