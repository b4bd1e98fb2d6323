"""Control charts of single values: has a heater, a seal or a habit begun to drift?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import fmean

D2_OF_PAIRS = 1.128
"""Mean range of two normal values in standard deviations (NIST/SEMATECH e-Handbook of Statistical Methods,
6.3.2.2, individuals control charts; from memory)."""
SIGMAS = 3.0
"""Width of the limits (the same; from memory)."""
EWMA_WEIGHT = 0.2
"""Weight of the latest value (the same, 6.3.2.4, EWMA control charts: 0.2 to 0.3 is usual; from memory)."""
BASELINE_COUNT = 20
"""How many values the centre and the spread are taken from: a choice, common practice, no source."""
FEWEST = 8
"""With fewer values no limits are drawn: a choice, common practice, no source."""


class Signal(StrEnum):
    """What a point tells. JUMP: the value itself is outside; DRIFT: its weighted mean is."""

    NONE = ""
    JUMP = "jump"
    DRIFT = "drift"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One value with its weighted mean, and the limits of that mean at this point."""

    value: float
    ewma: float
    ewma_low: float
    ewma_high: float
    signal: Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """`low` and `high` are the limits of single values; `points` are in the order of the values."""

    centre: float
    sigma: float
    low: float
    high: float
    points: tuple[ChartPoint, ...]


def chart_of(values: Sequence[float]) -> Chart | None:
    """Chart values in order of time against the first `BASELINE_COUNT`; None with fewer than `FEWEST`.

    The spread comes from the moving range of the baseline, which a slow drift inside it does not widen.
    """
    if len(values) < FEWEST:
        return None
    baseline = values[:BASELINE_COUNT]
    centre = fmean(baseline)
    sigma = fmean(abs(b - a) for a, b in pairwise(baseline)) / D2_OF_PAIRS
    low, high = centre - SIGMAS * sigma, centre + SIGMAS * sigma
    points = []
    ewma = centre
    for number, value in enumerate(values, 1):
        ewma += EWMA_WEIGHT * (value - ewma)
        share = EWMA_WEIGHT / (2.0 - EWMA_WEIGHT) * (1.0 - (1.0 - EWMA_WEIGHT) ** (2 * number))
        width = SIGMAS * sigma * math.sqrt(share)
        signal = Signal.NONE
        if not low <= value <= high:
            signal = Signal.JUMP
        elif not centre - width <= ewma <= centre + width:
            signal = Signal.DRIFT
        points.append(
            ChartPoint(
                value=value, ewma=ewma, ewma_low=centre - width, ewma_high=centre + width, signal=signal
            )
        )
    return Chart(centre=centre, sigma=sigma, low=low, high=high, points=tuple(points))
