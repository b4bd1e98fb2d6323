"""The arithmetic of the tables: shares with bounds, quantiles, coverage."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

from logger.domain.place_error import INTERVAL_K

SLACK_S = 1e-9


def wilson(hits: int, trials: int, k: float = 1.960) -> tuple[float, float]:
    """Wilson score interval of a proportion (Wilson 1927), 95 % by default; (0, 1) without trials."""
    if trials == 0:
        return 0.0, 1.0
    share, k2 = hits / trials, k * k
    middle = (share + k2 / (2 * trials)) / (1 + k2 / trials)
    half = k / (1 + k2 / trials) * sqrt(share * (1 - share) / trials + k2 / (4 * trials * trials))
    return max(0.0, middle - half), min(1.0, middle + half)


def quantile(values: Sequence[float], share: float) -> float:
    """The smallest value with at least this share of all values at or below it; nan without values."""
    if not values:
        return float("nan")
    ordered = sorted(values)
    return ordered[max(0, min(len(ordered) - 1, -int(-share * len(ordered) // 1) - 1))]


def percent(share: float) -> str:
    """A share as a percentage with one decimal."""
    return f"{100 * share:.1f}"


@dataclass(frozen=True)
class Placed:
    """One boundary that was placed: error (found minus true) and stated standard uncertainty, in seconds."""

    error_s: float
    u_s: float | None


@dataclass(frozen=True)
class Accuracy:
    """Figures over boundaries that were placed; shares between 0 and 1, nan where there is nothing."""

    n: int
    within_01: float
    within_02: float
    bias_s: float
    p95_s: float
    coverage: dict[int, float]


def accuracy(placed: Sequence[Placed]) -> Accuracy:
    """Summarise errors; a boundary without a stated uncertainty counts as not covered."""
    n = len(placed)

    def share(hits: int) -> float:
        return hits / n if n else float("nan")

    def within(limit_s: float) -> float:
        return share(sum(abs(p.error_s) <= limit_s + SLACK_S for p in placed))

    return Accuracy(
        n=n,
        within_01=within(0.1),
        within_02=within(0.2),
        bias_s=median(p.error_s for p in placed) if n else float("nan"),
        p95_s=quantile([abs(p.error_s) for p in placed], 0.95),
        coverage={
            level: share(sum(abs(p.error_s) <= k * (p.u_s or 0.0) + SLACK_S for p in placed))
            for level, k in INTERVAL_K.items()
        },
    )
