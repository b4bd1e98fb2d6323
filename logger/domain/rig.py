"""The rig as the thinking sees it: areas, gauge side, channels; no bus."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.channel import Channel, Quantity, is_overdue
from logger.domain.plate_surface import SurfaceCheck


class GaugeSide(StrEnum):
    """Where the pressure transmitter sits."""

    LINE = "line"
    """Ahead of the valve: opening and closing strokes both show."""
    CLOSING = "closing"
    """On the closing side of the cylinders: opening strokes do not show."""
    UNKNOWN = "unknown"


class Origin(StrEnum):
    """Where the samples of a record come from; inside the record, its list and its JSON."""

    LIVE = "live"
    REPLAY = "replay"
    SIMULATED = "simulated"
    IMPORTED_FILE = "imported_file"


@dataclass(frozen=True, slots=True, kw_only=True)
class HydraulicLag:
    """How late the gauge showed a ramp at the cylinders when the sensors were fitted: a start value only.

    `u_s` is its standard uncertainty, `measured_on` an ISO date.
    """

    lag_s: float
    u_s: float
    measured_on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """One rig. `piston_area_mm2` is None where joint.toml has to give it.

    `relief_pressure_bar` is the setting of the relief valve and `gauge_span_bar` the span of the pressure
    transmitter or dial; None where the rig file says neither. `check_valve` says whether anything can shut
    the gauge off from the cylinders (a check or shut-off valve, couplings that are parted in cooling), None
    where nobody declared it; so does `accumulator` for one in the circuit. `serial` is the carriage's, the
    power pack has its own: one pack may serve two carriages.
    """

    name: str
    serial: str = ""
    piston_area_mm2: float | None = None
    gauge_side: GaugeSide = GaugeSide.UNKNOWN
    origin: Origin = Origin.LIVE
    channels: tuple[Channel, ...] = ()
    relief_pressure_bar: float | None = None
    gauge_span_bar: float | None = None
    check_valve: bool | None = None
    accumulator: bool | None = None
    power_pack_serial: str = ""
    commissioned_lag: HydraulicLag | None = None
    plate_surface: SurfaceCheck | None = None

    def channel_of(self, quantity: Quantity) -> Channel | None:
        return next((channel for channel in self.channels if channel.quantity is quantity), None)


PLATE_SURFACE = "plate_surface"
"""How the surface readings are named among what is overdue."""


def overdue_of(rig: Rig, utc: str) -> tuple[str, ...]:
    """Name the channels whose calibration was due before the day of `utc`, and the plate's surface alike."""
    names = [str(one.quantity) for one in rig.channels if is_overdue(one.calibration_due, utc)]
    surface = rig.plate_surface
    if surface is not None and is_overdue(surface.due, utc):
        names.append(PLATE_SURFACE)
    return tuple(names)
