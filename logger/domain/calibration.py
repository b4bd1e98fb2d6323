"""A channel held against a reference: a line by least squares, what is left, how sure it is. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from logger.domain.channel import Scaling

LEAST_SCATTERS = 6.0
"""So many standard deviations of one reading the points lie apart at least: a choice without a source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferencePoint:
    """What the reference showed, and the mean and spread of the channel's raw numbers meanwhile."""

    reference: float
    number: float
    spread: float
    """Standard deviation of one reading, in raw numbers."""
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationFit:
    """The line value = gain x number + offset; errors are channel less reference, point by point."""

    gain: float
    offset: float
    errors_before: tuple[float, ...]
    errors_after: tuple[float, ...]
    standard_uncertainty: float
    has_residuals: bool
    """False with two points: the line goes through both, so it says nothing of its own deviation."""


def point_of(reference: float, numbers: Sequence[float]) -> ReferencePoint:
    """Average the raw numbers of one point. Raises ValueError for fewer than two."""
    if len(numbers) < 2:
        raise ValueError(f"{len(numbers)} readings are too few for a point")
    return ReferencePoint(
        reference=reference, number=fmean(numbers), spread=stdev(numbers), count=len(numbers)
    )


def fit_of(points: Sequence[ReferencePoint], before: Scaling, reference_uncertainty: float) -> CalibrationFit:
    """Fit a line to two or more points.

    The standard uncertainty is that of the reference, of the means, and of the points about the line (points
    less two degrees of freedom), added in squares.

    Raises:
        ValueError: fewer than two points, all at one raw number, or no further apart than their noise.
    """
    if len(points) < 2:
        raise ValueError("two points are needed at least")
    numbers, references = [p.number for p in points], [p.reference for p in points]
    mean_n, mean_r = fmean(numbers), fmean(references)
    spread = sum((number - mean_n) ** 2 for number in numbers)
    if spread == 0:
        raise ValueError(
            "all points have the same raw number: the reference was not changed, or the channel is dead"
        )
    moved, scatter = max(numbers) - min(numbers), max(point.spread for point in points)
    if moved < LEAST_SCATTERS * scatter:
        raise ValueError(
            f"the raw numbers of all points lie within {moved:.4g} while one reading scatters by "
            f"{scatter:.3g}: did the channel follow the reference?"
        )
    gain = sum((n - mean_n) * (r - mean_r) for n, r in zip(numbers, references, strict=True)) / spread
    if gain == 0:
        raise ValueError("the reference is the same at all points")
    offset = mean_r - gain * mean_n
    after = tuple(gain * p.number + offset - p.reference for p in points)
    freedom = len(points) - 2
    about_line = math.sqrt(sum(error * error for error in after) / freedom) if freedom else 0.0
    of_means = max(abs(gain) * p.spread / math.sqrt(p.count) for p in points)
    return CalibrationFit(
        gain=gain,
        offset=offset,
        errors_before=tuple(before.value_at(p.number) - p.reference for p in points),
        errors_after=after,
        standard_uncertainty=math.sqrt(reference_uncertainty**2 + of_means**2 + about_line**2),
        has_residuals=freedom > 0,
    )
