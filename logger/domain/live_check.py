"""What a rig showed when it was watched for a while, against what the procedures need. Values only."""

import math
from dataclasses import dataclass

from logger.domain.channel import Channel, Quality
from logger.domain.measurement import SignalMeasure

_COVERAGE_K = 1.645
"""Guard band of a normal error in standard uncertainties (ISO 14253-1, 95 % one-sided)."""
_BAR_PER_MPA = 10.0
_LARGEST_SHARE = 0.1
"""A guard band of more than a tenth of a limit leaves too little of it (a choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acuity:
    """What the pressure channel can tell on this rig; None where it was not measured or not declared.

    `spread_bar` is the standard deviation of one reading at rest, noise and ripple; `resolution_bar` the
    smallest edge that shows.
    """

    rate_hz: float
    spread_bar: float | None = None
    resolution_bar: float | None = None
    piston_area_mm2: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortestLimit:
    """The shortest greatest duration of a phase over all procedures and standard pipes.

    `edge_force_N` is the least change of force at the faces that bounds it: from soak to bead-up or joining
    pressure; `rise_s` how long that rise may take. None where the procedure does not say. `larger` are the
    same limits of the same procedure and SDR for larger pipes.
    """

    phase: str
    limit_s: float
    procedure: str
    diameter_mm: float
    sdr: float
    edge_force_N: float | None = None
    rise_s: float | None = None
    larger: tuple["ShortestLimit", ...] = ()

    def edge_bar(self, acuity: Acuity) -> float | None:
        """Return that change as this rig's gauge shows it."""
        if self.edge_force_N is None or acuity.piston_area_mm2 is None:
            return None
        return _BAR_PER_MPA * self.edge_force_N / acuity.piston_area_mm2

    def guard_s(self, acuity: Acuity) -> float:
        """Return the guard band of the duration between two boundaries.

        k times the sampling's share, 1 / rate / sqrt 6, and that of the noise: each boundary is as unsure as
        one reading on the slowest rise that is allowed. The judgement fits many, so this is on the safe side.
        """
        of_sampling_s = 1 / acuity.rate_hz / math.sqrt(6)
        edge_bar, of_noise_s = self.edge_bar(acuity), 0.0
        if acuity.spread_bar is not None and edge_bar and edge_bar > 0 and self.rise_s is not None:
            of_noise_s = math.sqrt(2) * acuity.spread_bar * self.rise_s / edge_bar
        return _COVERAGE_K * math.hypot(of_sampling_s, of_noise_s)

    def shows(self, acuity: Acuity) -> bool | None:
        """Tell whether its edges stand out of what was measured; None where that cannot be said."""
        edge_bar = self.edge_bar(acuity)
        if edge_bar is None or acuity.resolution_bar is None:
            return None
        return edge_bar >= acuity.resolution_bar

    def is_enough(self, acuity: Acuity) -> bool:
        return self.guard_s(acuity) <= _LARGEST_SHARE * self.limit_s and self.shows(acuity) is not False

    def enough_from(self, acuity: Acuity) -> "ShortestLimit | None":
        """Return the limit of the smallest pipe from which on all are enough; None where none is."""
        found = None
        for limit in reversed((self, *self.larger)):
            if not limit.is_enough(acuity):
                break
            found = limit
        return found


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
