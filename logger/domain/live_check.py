"""What a rig showed when it was watched for a while, against what the procedures need. Values only."""

import math
from dataclasses import dataclass

from logger.domain.channel import Channel, Quality
from logger.domain.measurement import SignalMeasure

_COVERAGE_K = 1.645
"""The judgement's guard band in standard uncertainties (ISO 14253-1, 95 % one-sided)."""
_LARGEST_SHARE = 0.1
"""A guard band of more than a tenth of a limit leaves too little of it (a choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortestLimit:
    """The shortest greatest duration of a phase over all procedures and standard pipes."""

    phase: str
    limit_s: float
    procedure: str
    diameter_mm: float
    sdr: float

    def guard_s(self, rate_hz: float) -> float:
        """Return the guard band of a duration between two sampled boundaries: k / rate / sqrt 6."""
        return _COVERAGE_K / rate_hz / math.sqrt(6)

    def is_enough(self, rate_hz: float) -> bool:
        return self.guard_s(rate_hz) <= _LARGEST_SHARE * self.limit_s


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkCheck:
    """One bus while it was watched; `errors` with how often each came, the most frequent first."""

    bus: str
    good: int
    failed: int
    missed: int
    latency_median_s: float | None
    latency_worst_s: float | None
    errors: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelCheck:
    """One channel while it was watched; `marks` counts the readings that were not used."""

    channel: Channel
    measure: SignalMeasure
    marks: tuple[tuple[Quality, int], ...] = ()
