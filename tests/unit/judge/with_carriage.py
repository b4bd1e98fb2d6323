"""A carriage and a plate switch drawn over a drawn curve."""

from collections.abc import Iterable
from dataclasses import replace

from logger.domain.phase import Phase
from logger.domain.sample import Sample
from tests.drawn import Drawn

PLATE_MM, OPEN_MM = 15.0, 60.0


def opening_mm(drawn: Drawn, t_s: float) -> float:
    """At the plate while heating, a bead pressed by half a millimetre, wide open, then touching at zero."""
    bead_up_s, let_down_s = drawn.truth[Phase.BEAD_UP]
    opened_s, touch_s = drawn.truth[Phase.CHANGEOVER]
    if t_s < bead_up_s - 2.0:
        return OPEN_MM
    if t_s < bead_up_s:
        return PLATE_MM + (OPEN_MM - PLATE_MM) * (bead_up_s - t_s) / 2.0
    if t_s < let_down_s:
        return PLATE_MM - 0.6 * (t_s - bead_up_s) / (let_down_s - bead_up_s)
    if t_s < opened_s:
        return PLATE_MM - 0.6
    if t_s < touch_s:
        into = min((t_s - opened_s) / 1.0, (touch_s - t_s) / 1.5, 1.0)
        floor = PLATE_MM - 0.6 if t_s - opened_s < 1.0 else 0.0
        return floor + (OPEN_MM - floor) * into
    return -0.3 * min((t_s - touch_s) / 20.0, 1.0)


def fitted(drawn: Drawn, samples: Iterable[Sample], *, with_switch: bool = True) -> list[Sample]:
    bead_up_s, out_s = drawn.truth[Phase.BEAD_UP][0], drawn.truth[Phase.CHANGEOVER][0]
    return [
        replace(
            s,
            carriage_mm=round(opening_mm(drawn, s.t_s), 2),
            plate_in=(bead_up_s - 5.0 < s.t_s < out_s + 0.5) if with_switch else None,
        )
        for s in samples
    ]


def moved(samples: Iterable[Sample], from_s: float, to_s: float, by_mm: float) -> list[Sample]:
    """The carriage further open between two times."""
    return [
        replace(s, carriage_mm=(s.carriage_mm or 0.0) + by_mm) if from_s < s.t_s < to_s else s
        for s in samples
    ]
