"""What is known of the plate beside a joint's curve."""

from dataclasses import dataclass

from logger.domain.hand_reading import HandReading
from logger.domain.heat_through import PlateHeat


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateKnown:
    """Readings by hand, and what was seen before the joint was opened; on the joint's own clock."""

    hand_readings: tuple[HandReading, ...] = ()
    before: PlateHeat | None = None


NOTHING_KNOWN = PlateKnown()
