"""What a gap is: longer than three times the channel's own median interval and half a second."""

from collections.abc import Sequence
from itertools import pairwise
from statistics import median

INTERVALS = 3.0
LEAST_S = 0.5


def median_interval_s(t_s: Sequence[float]) -> float:
    """Return the median interval between readings; 0 with fewer than two readings."""
    return median(b - a for a, b in pairwise(t_s)) if len(t_s) > 1 else 0.0


def longest_interval_s(interval_s: float) -> float:
    """Return the longest time between two readings that is no gap yet, given their median interval."""
    return max(INTERVALS * interval_s, LEAST_S)
