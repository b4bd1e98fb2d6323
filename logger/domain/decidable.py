"""Whether a rig with its sensors can decide a limit at all, known before work starts."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.phase import Phase


class LimitQuantity(StrEnum):
    PRESSURE = "pressure"
    DURATION = "duration"
    PLATE_TEMPERATURE = "plate_temperature"


@dataclass(frozen=True, slots=True, kw_only=True)
class DecidableLimit:
    """One limit of a plan against one sensor, in bar, s or degC.

    `room` is what the limit leaves on its narrow side, `guard` the guard band of the decision rule; each is
    None where the plan has no figure or nobody declared the sensor's uncertainty. The limit can be decided
    where `room` is above `guard`. `smallest_diameter_mm` is the outside diameter, at this SDR and rig, from
    which a pressure limit can be decided.
    """

    phase: Phase | None
    step: int | None = None
    quantity: LimitQuantity
    unit: str
    room: float | None
    guard: float | None
    smallest_diameter_mm: float | None = None

    @property
    def is_decided(self) -> bool | None:
        """None where it cannot be said."""
        if self.room is None or self.guard is None:
            return None
        return self.room > self.guard
