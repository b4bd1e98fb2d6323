"""One limit, one measured value: the chance that the limit is kept, and what the joint may risk in all.

The rule is one of conformance probability (JCGM 106:2012) with the default of ISO 14253-1:2017, 95 %, held
for the joint as a whole: it is conforming when the chances of its limits being broken sum to at most 5 %.
Sums need no independence. One limit close to its edge alone keeps a guard band of 1.645 standard
uncertainties; several share the risk, as for a multicomponent object (IUPAC/CITAC guide 2021, from memory).
Durations have the longer tails of the places they lie between (`domain/place_error.py`).
"""

from dataclasses import dataclass, replace
from math import erfc, exp, hypot, pi, sqrt

from logger.domain.place_error import chance_below

JOINT_RISK = 0.05
RULE_NAME = "conformance probability, 5 % risk per joint"
DECISION_RULE = (
    f"{RULE_NAME}: a limit is broken where the chance that the true value keeps it is 5 % or less; the "
    "joint is conforming where the chances of its limits being broken sum to 5 % or less, else undecided. "
    "One limit alone so keeps a guard band of 1.645 standard uncertainties on either side "
    "(JCGM 106:2012, ISO 14253-1:2017, both from memory). "
    "Durations carry at least the uncertainty from sampling. Their error, like that of a boundary, has long "
    "tails (Student's t with 3 degrees of freedom): 1.359 standard uncertainties for one limit, intervals of "
    "90, 95 and 99 % within 1.359, 1.837 and 3.372; "
    "pressure and temperature without a declared uncertainty are compared plainly"
)
_MOSTLY_NORMAL = 0.05
"""A bound this small against the normal part only widens it: the error stays below a millionth."""

_MOSTLY_BOUNDED = 1e-6
"""A normal part this small against the bounds changes nothing that could be told."""

_NEVER = 40.0
"""Normal standard uncertainties that no error exceeds as far as floats can tell."""


@dataclass(frozen=True)
class Measured:
    """A measured value, its normal standard uncertainty and the half-width of a bounds-only contribution.

    All in the unit of the limit the value is held against. `long_tailed`: `u` is that of places on a curve,
    whose errors have longer tails than normal ones, and there is no bounds-only contribution.
    """

    value: float
    u: float = 0.0
    bound: float = 0.0
    long_tailed: bool = False

    @property
    def standard_uncertainty(self) -> float:
        return hypot(self.u, self.bound / sqrt(3))

    def rounded(self, digits: int) -> "Measured":
        return replace(self, value=round(self.value, digits))


def chance_at_most(measured: Measured, limit: float) -> float:
    """Chance that the true value is `limit` at most; without uncertainty 1 or 0, a value at it keeps it."""
    return _chance(measured, limit - measured.value)


def chance_at_least(measured: Measured, limit: float) -> float:
    """Chance that the true value is `limit` at least."""
    return _chance(measured, measured.value - limit)


def chance_inside(measured: Measured, low: float, high: float) -> float:
    """Conformance probability of a band: Phi((high - y)/u) - Phi((low - y)/u) with a normal error alone."""
    return chance_at_most(measured, high) - (1.0 - chance_at_least(measured, low))


def coverage_factor(measured: Measured, risk: float = JOINT_RISK) -> float:
    """Guard band in standard uncertainties that leaves `risk`: 1.645 where normal, less with hard bounds.

    Long tails have 1.359 and, for risks below 1.8 %, more than normal ones.
    """
    u = measured.standard_uncertainty
    if u == 0.0:
        return 0.0
    low, high = 0.0, _NEVER * u
    for _ in range(60):
        middle = (low + high) / 2
        if 1.0 - _chance(measured, middle) > risk:
            low = middle
        else:
            high = middle
    return high / u


def _chance(measured: Measured, margin: float) -> float:
    """Chance that the error stays below `margin`."""
    if not measured.long_tailed:
        return _normal_and_bounded(margin, measured.u, measured.bound)
    if measured.u == 0.0:
        return 1.0 if margin >= 0.0 else 0.0
    return chance_below(margin / measured.u)


def _normal_and_bounded(margin: float, u: float, bound: float) -> float:
    """The same for a normal plus a rectangular error."""
    if bound <= _MOSTLY_NORMAL * u:
        u = hypot(u, bound / sqrt(3))
        if u == 0.0:
            return 1.0 if margin >= 0.0 else 0.0
        return _normal(margin / u)
    if abs(margin) > bound + _NEVER * u:
        return 1.0 if margin > 0.0 else 0.0
    if u <= _MOSTLY_BOUNDED * bound:
        return min(max((margin + bound) / (2 * bound), 0.0), 1.0)
    high, low = (margin + bound) / u, (margin - bound) / u
    return min(max((_normal_integral(high) - _normal_integral(low)) * u / (2 * bound), 0.0), 1.0)


def _normal(z: float) -> float:
    return 0.5 * erfc(-z / sqrt(2))


def _normal_integral(z: float) -> float:
    """Integral of the normal distribution function up to `z`."""
    return z * _normal(z) + exp(-z * z / 2) / sqrt(2 * pi)


def combined(*parts: float | None) -> float:
    """Root sum of squares of the parts that are known."""
    return hypot(*(part for part in parts if part is not None))
