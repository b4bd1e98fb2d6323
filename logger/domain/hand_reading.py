"""The surface of the plate, read by a person with an instrument of its own."""

from dataclasses import dataclass

FACES = ("fixed", "moving")
BOTH = "both"


@dataclass(frozen=True, slots=True, kw_only=True)
class HandReading:
    """One reading. `face` is "fixed", "moving" or "both"; `taken_at_s` is on the joint's own clock.

    `u_degC` is the standard uncertainty that was declared for the instrument.
    """

    temperature_degC: float
    u_degC: float
    face: str
    taken_at_s: float
    instrument: str = ""
