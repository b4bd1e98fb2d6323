"""What this rig and its sensors can decide, in words."""

from collections.abc import Iterable

from logger.domain.decidable import DecidableLimit, LimitQuantity
from logger.wording.findings import SUBJECTS
from logger.wording.units import METRIC, Units

_QUANTITY = {
    LimitQuantity.PRESSURE: "pressure",
    LimitQuantity.DURATION: "duration",
    LimitQuantity.PLATE_TEMPERATURE: "temperature",
}


def decidable_lines(limits: Iterable[DecidableLimit], units: Units = METRIC) -> list[str]:
    """Return one line per limit: decided or not, room against guard band, else the smallest pipe."""
    return [_line(limit, units) for limit in limits]


def _line(limit: DecidableLimit, units: Units) -> str:
    subject = "plate" if limit.phase is None else SUBJECTS[limit.phase]
    name = f"{subject} {_QUANTITY[limit.quantity]}"
    if limit.step is not None:
        name += f", step {limit.step}"
    if limit.guard is None:
        return f"  {name:<28}cannot be said: no uncertainty of the sensor is declared"
    if limit.room is None:
        return f"  {name:<28}cannot be said: the piston area is not known"
    unit, room, guard = _shown(limit, units)
    figures = f"room {room:.3g} {unit}, guard band {guard:.3g} {unit}"
    if limit.is_decided:
        return f"  {name:<28}can be decided: {figures}"
    if limit.smallest_diameter_mm is None:
        return f"  {name:<28}CANNOT be decided: {figures}"
    smallest = units.length_of(limit.smallest_diameter_mm)
    return f"  {name:<28}CANNOT be decided: {figures}; from dn {smallest:.3g} {units.length} on"


def _shown(limit: DecidableLimit, units: Units) -> tuple[str, float, float]:
    room, guard = limit.room or 0.0, limit.guard or 0.0
    if limit.quantity is LimitQuantity.PRESSURE:
        return units.pressure, units.gauge_of(room), units.gauge_of(guard)
    return limit.unit, room, guard
