"""What a rig file allows and a person should still look at: remarks on its wiring, no errors. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from logger.domain.bus import Binding, Installation, ModbusPoint, ModbusRtuBus
from logger.domain.channel import Channel, DataType, Quantity, is_overdue
from logger.domain.rig import PLATE_SURFACE, GaugeSide, Rig


class WiringCode(StrEnum):
    """Parameters beside each; `channel` throughout."""

    NO_UNCERTAINTY = "wiring.no_uncertainty"
    NO_RANGE = "wiring.no_range"
    """A broken wire would pass for a value."""
    CALIBRATION_OVERDUE = "wiring.calibration_overdue"
    """due"""
    SURFACE_OVERDUE = "wiring.surface_overdue"
    """due"""
    NO_SURFACE = "wiring.no_surface"
    """A plate sensor whose distance from the surface nobody has measured."""
    NO_SENSOR_SERIAL = "wiring.no_sensor_serial"
    SLOW_UNIT = "wiring.slow_unit"
    """latency_s, period_s: a device may take longer than the time between its polls"""
    GAUGE_SIDE_UNKNOWN = "wiring.gauge_side_unknown"
    NO_PISTON_AREA = "wiring.no_piston_area"


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringRemark:
    code: WiringCode
    channel: str = ""
    figures: tuple[float, ...] = ()
    due: str = ""


def wiring_remarks(installation: Installation, today: str) -> tuple[WiringRemark, ...]:
    """Return all remarks; `today` is an ISO date."""
    rig = installation.rig
    remarks: list[WiringRemark] = []
    for binding in installation.bindings:
        remarks += _of_channel(binding.channel, today)
        remarks += _of_latency(installation, binding)
    remarks += _of_surface(rig, today)
    if rig.gauge_side is GaugeSide.UNKNOWN:
        remarks.append(WiringRemark(code=WiringCode.GAUGE_SIDE_UNKNOWN))
    if rig.piston_area_mm2 is None:
        remarks.append(WiringRemark(code=WiringCode.NO_PISTON_AREA))
    return tuple(remarks)


def _of_surface(rig: Rig, today: str) -> Iterator[WiringRemark]:
    plate, surface = rig.channel_of(Quantity.PLATE_TEMPERATURE), rig.plate_surface
    if surface is not None and is_overdue(surface.due, today):
        yield WiringRemark(code=WiringCode.SURFACE_OVERDUE, channel=PLATE_SURFACE, due=surface.due)
    if surface is None and plate is not None:
        yield WiringRemark(code=WiringCode.NO_SURFACE, channel=plate.quantity)


def _of_channel(channel: Channel, today: str) -> Iterator[WiringRemark]:
    name = channel.quantity
    is_switch = name is Quantity.PLATE_IN or channel.scaling.data_type is DataType.COUNT
    if channel.standard_uncertainty is None and name is not Quantity.PLATE_IN:
        yield WiringRemark(code=WiringCode.NO_UNCERTAINTY, channel=name)
    if channel.loop is None and channel.valid_min is None and not is_switch:
        yield WiringRemark(code=WiringCode.NO_RANGE, channel=name)
    if is_overdue(channel.calibration_due, today):
        yield WiringRemark(code=WiringCode.CALIBRATION_OVERDUE, channel=name, due=channel.calibration_due)
    if not channel.sensor_serial and name is not Quantity.PLATE_IN:
        yield WiringRemark(code=WiringCode.NO_SENSOR_SERIAL, channel=name)


def _of_latency(installation: Installation, binding: Binding) -> Iterator[WiringRemark]:
    bus = next(bus for bus in installation.buses if bus.name == binding.bus)
    if isinstance(bus, ModbusRtuBus) and isinstance(binding.point, ModbusPoint):
        latency_s = bus.timing_of(binding.point.unit_id).worst_latency_s
        period_s = 1 / binding.channel.rate_hz
        if latency_s > period_s:
            yield WiringRemark(
                code=WiringCode.SLOW_UNIT, channel=binding.channel.quantity, figures=(latency_s, period_s)
            )
