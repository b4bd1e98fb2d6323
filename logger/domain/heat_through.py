"""Whether the hot plate is hot all through: how long it has been in its band since it was switched on. Pure.

A sensor inside the plate reaches the set temperature before the faces are even. A switch-on is seen as a
plate clearly below its band that then comes into it; from there the time counts. Who did not see the plate
cold does not know when it was switched on, only for how long it has been seen in the band: that is enough
once it is long enough. Every reading used stands as it was read.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from logger.domain.band import Band
from logger.domain.source import Mark, Source

HEAT_THROUGH = Band(
    min=600.0,
    source=Source(
        mark=Mark.MEMORY,
        text="DVS 2207, work begins 10 min after the heated tool reached its temperature",
    ),
)
"""Seconds in the band before work, where the procedure gives no time of its own."""
COLD_BELOW_K = 20.0
"""So far below the band's lower edge a plate was off: no thermostat's swing, no dip. A choice, no source."""
EVERY_S = 5.0
"""One reading in so long is used: a plate is slow. A choice, no source."""
LONGEST_GAP_S = 60.0
"""A plate that was off and is in its band again takes longer than this. After a longer gap nothing is known
of what was before. A choice, no source."""
NEW_S = 4 * EVERY_S
"""A state whose last reading is older says nothing of now. A choice, no source."""


class Zone(StrEnum):
    """Where one reading lies."""

    COLD = "cold"
    BELOW = "below"
    """The band's lower edge, and by no more than a thermostat swings or a contact dips."""
    IN = "in"
    """At the lower edge or above: what is too hot is judged elsewhere."""


class Heat(StrEnum):
    """What can be said of the plate."""

    WARMING = "warming"
    """It was seen cold and has not come into its band."""
    COUNTING = "counting"
    """In its band, not long enough since the switch-on that was seen."""
    THROUGH = "through"
    NOT_OBSERVED = "not_observed"
    """Not long enough in its band as far as it was seen, and its switch-on was not seen."""
    NO_READING = "no_reading"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateHeat:
    """What was seen of the plate so far; times in s on one clock, the fold's own.

    Two readings on end in a zone count, so that one stray reading begins and ends nothing. `in_band_since_s`
    is the first reading in the band after the last time the plate was cold, or after a gap.
    """

    low_degC: float
    zone: Zone | None = None
    zone_since_s: float = 0.0
    last_s: float | None = None
    is_switch_on_seen: bool = False
    in_band_since_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStatus:
    """`gone_s` in the band, of the `needed_s` before work, both None where nothing can be said."""

    heat: Heat
    gone_s: float | None
    needed_s: float
    source: Source


def plate_heat_of(band: Band) -> PlateHeat | None:
    """Begin to watch for this band of the plate's temperature, degC; None where it has no lower edge."""
    low = band.min if band.min is not None else band.target
    return None if low is None else PlateHeat(low_degC=low)


def heat_read(heat: PlateHeat, t_s: float, degC: float) -> PlateHeat:
    """Take one reading of the plate."""
    if heat.last_s is not None and abs(t_s - heat.last_s) < EVERY_S:
        return heat
    if heat.last_s is not None and not 0 <= t_s - heat.last_s <= LONGEST_GAP_S:
        heat = PlateHeat(low_degC=heat.low_degC)
    zone = _zone_of(degC, heat.low_degC)
    if zone is not heat.zone:
        return replace(heat, zone=zone, zone_since_s=t_s, last_s=t_s)
    heat = replace(heat, last_s=t_s)
    if zone is Zone.COLD:
        return replace(heat, is_switch_on_seen=True, in_band_since_s=None)
    if zone is Zone.IN and heat.in_band_since_s is None:
        return replace(heat, in_band_since_s=heat.zone_since_s)
    return heat


def heat_through(heat: PlateHeat | None, readings: Iterable[tuple[float, float]]) -> PlateHeat | None:
    """Take readings (time in s, degC) in the order of their times."""
    if heat is None:
        return None
    for t_s, degC in readings:
        heat = heat_read(heat, t_s, degC)
    return heat


def shifted(heat: PlateHeat, by_s: float) -> PlateHeat:
    """The same on a clock that reads `by_s` more."""
    return replace(
        heat,
        zone_since_s=heat.zone_since_s + by_s,
        last_s=None if heat.last_s is None else heat.last_s + by_s,
        in_band_since_s=None if heat.in_band_since_s is None else heat.in_band_since_s + by_s,
    )


def heat_status(heat: PlateHeat | None, band: Band, now_s: float) -> HeatStatus | None:
    """Say where the plate stands against the time `band` (s) asks; None where nothing is asked or judged."""
    needed_s = band.min if band.min is not None else band.target
    if heat is None or needed_s is None:
        return None

    def told(what: Heat, gone_s: float | None = None) -> HeatStatus:
        return HeatStatus(heat=what, gone_s=gone_s, needed_s=needed_s, source=band.source)

    if heat.last_s is None or now_s - heat.last_s > NEW_S:
        return told(Heat.NO_READING)
    if heat.in_band_since_s is None:
        return told(Heat.WARMING, 0.0) if heat.is_switch_on_seen else told(Heat.NOT_OBSERVED)
    gone_s = max(0.0, now_s - heat.in_band_since_s)
    if gone_s >= needed_s:
        return told(Heat.THROUGH, gone_s)
    return told(Heat.COUNTING if heat.is_switch_on_seen else Heat.NOT_OBSERVED, gone_s)


def asked_time(own: Band) -> Band:
    """The procedure's own time where it gives one, else the general one."""
    return own if own.is_given else HEAT_THROUGH


def _zone_of(degC: float, low_degC: float) -> Zone:
    if degC >= low_degC:
        return Zone.IN
    return Zone.COLD if degC < low_degC - COLD_BELOW_K else Zone.BELOW
