"""The plate's surface held against its built-in sensor, face by face, with an instrument of its own.

The built-in sensor sits inside the plate, the limits are for the surface: this is what lies between them, and
it changes with the coating, the sensor's seat and the heating rods. So it has an age, and is due again.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from logger.domain.source import Mark, Source

EVERY_DAYS = 183
DUE_SOURCE = Source(mark=Mark.PRACTICE, text="both faces read again every half year")
"""Where the rig file declares no interval."""
DECLARED = Source(mark=Mark.GIVEN, text="interval declared in the rig file")


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceCheck:
    """One face: mean of its surface less the built-in sensor, and greatest less least reading, both K."""

    face: str
    offset_K: float
    spread_K: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceCheck:
    """`measured_on` and `due` are ISO dates, `instrument` names the thermometer and its serial."""

    measured_on: str
    instrument: str
    faces: tuple[FaceCheck, ...]
    due: str
    due_source: Source = DUE_SOURCE


def due_on(measured: date, every_days: int | None) -> tuple[str, Source]:
    """Return when the faces are to be read again, an ISO date, and whose interval that is."""
    days, source = (EVERY_DAYS, DUE_SOURCE) if every_days is None else (every_days, DECLARED)
    return (measured + timedelta(days=days)).isoformat(), source


def age_days(check: SurfaceCheck, today: str) -> int:
    """Whole days since the faces were read; `today` is an ISO date or date and time."""
    return (date.fromisoformat(today[:10]) - date.fromisoformat(check.measured_on)).days
