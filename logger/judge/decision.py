"""One limit, one measured value, one answer: inside, beyond, or cannot be told."""

from dataclasses import dataclass
from enum import Enum
from math import hypot

from logger.plan.decidable import COVERAGE_K

DECISION_RULE = (
    "guard band of 1.645 standard uncertainties on either side of a limit "
    "(ISO 14253-1:2017, 95 %, from memory); "
    "durations carry at least the uncertainty from sampling; "
    "pressure and temperature without a declared uncertainty are compared plainly"
)


class Answer(Enum):
    INSIDE = "inside"
    BEYOND = "beyond"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class Measured:
    """A measured value and its standard uncertainty, in the unit of the limit it is held against."""

    value: float
    u: float = 0.0

    def rounded(self, digits: int) -> "Measured":
        return Measured(round(self.value, digits), self.u)


def against_max(measured: Measured, limit: float) -> Answer:
    """Compare with an upper limit."""
    return _answer(limit - measured.value, measured.u)


def against_min(measured: Measured, limit: float) -> Answer:
    """Compare with a lower limit."""
    return _answer(measured.value - limit, measured.u)


def _answer(margin: float, u: float) -> Answer:
    guard = COVERAGE_K * u
    if guard == 0.0:
        return Answer.INSIDE if margin >= 0 else Answer.BEYOND
    if margin >= guard:
        return Answer.INSIDE
    return Answer.BEYOND if margin <= -guard else Answer.CANNOT_TELL


def combined(*parts: float | None) -> float:
    """Root sum of squares of the parts that are known."""
    return hypot(*(part for part in parts if part is not None))
