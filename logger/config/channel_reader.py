"""One `[channel.X]` table of RIG.toml to a binding: where it is read and what its raw number means."""

import re
from collections.abc import Mapping
from pathlib import Path

from logger.config.device_file import DeviceFile, DevicePoint, device_in, device_named, keys_of
from logger.config.formula import nearest
from logger.config.rig_tables import BusTable, ChannelTable, OwnDriverTable, ReplayTable, RtuTable, TcpTable
from logger.config.scaling_reader import ScalingReader
from logger.config.toml_file import Document, Place
from logger.domain.bus import Binding, LineField, ModbusPoint, Point, ReplayField
from logger.domain.channel import SECOND_OF, Channel, Quantity
from logger.domain.sensor_class import standard_uncertainty_degC

_PLATE_DEGC = 220.0
_OF_MODBUS = (
    "unit_id",
    "table",
    "address",
    "type",
    "word_order",
    "bits",
    "device",
    "point",
    "span",
    "signal",
)
_OF_DEVICE = ("table", "address", "type", "bits")
_TEMPERATURES = (Quantity.PLATE_TEMPERATURE, Quantity.PLATE_TEMPERATURE_2)


class ChannelReader:
    """Reads the channels of one rig file; errors name the key by its place in `document`.

    `folder` is that of the integrator's own device files, `inline` what the rig file itself holds of devices.
    Those that a channel names are in `devices` then.
    """

    def __init__(
        self,
        *,
        document: Document,
        buses: Mapping[str, BusTable],
        quantities: frozenset[Quantity],
        folder: Path | None,
        inline: Mapping[str, object],
    ) -> None:
        self.devices: dict[str, DeviceFile] = {}
        self._document = document
        self._folder = folder
        self._inline = inline
        self._buses = buses
        self._quantities = quantities

    def binding(self, quantity: Quantity, table: ChannelTable) -> Binding:
        place: Place = ("channel", str(quantity))
        if table.bus not in self._buses:
            raise self._document.error(
                (*place, "bus"), f'unknown bus "{table.bus}"{nearest(table.bus, list(self._buses))}'
            )
        device = self._device_point(table, place)
        if device is not None:
            table = _with_device(table, device)
        numbers = ScalingReader(self._document, quantity, table, place)
        point = self._point(table, self._buses[table.bus], numbers, place)
        channel = self._channel(table, point, numbers, None if device is None else device.raw)
        return Binding(channel=channel, bus=table.bus, point=point)

    def _device_point(self, table: ChannelTable, place: Place) -> DevicePoint | None:
        if table.device is None:
            if table.point is not None:
                raise self._document.error((*place, "point"), "needs device, the name of a device file")
            return None
        for key in _OF_DEVICE:
            if getattr(table, key) is not None:
                raise self._document.error((*place, key), "comes from the device; leave one out")
        points = self._device(table.device, place).points()
        if table.point not in points:
            near = nearest(table.point or "", list(points))
            fault = "required key is missing" if table.point is None else f'no point "{table.point}"'
            raise self._document.error((*place, "point"), f"{fault} in {table.device}{near}")
        return points[table.point]

    def _device(self, name: str, place: Place) -> DeviceFile:
        if name not in self.devices:
            try:
                self.devices[name] = (
                    device_in(self._document, self._inline[name], ("device", name))
                    if name in self._inline
                    else device_named(name, self._folder)
                )
            except KeyError as error:
                raise self._document.error((*place, "device"), str(error.args[0])) from None
        return self.devices[name]

    def _point(self, table: ChannelTable, bus: BusTable, numbers: ScalingReader, place: Place) -> Point:
        if isinstance(bus, TcpTable | RtuTable):
            self._refuse_keys(table, ("field",), bus.kind, place)
            if table.unit_id is None or table.table is None or table.address is None:
                missing = next(key for key in _OF_MODBUS[:3] if getattr(table, key) is None)
                raise self._document.error((*place, missing), f"required key is missing for {bus.kind}")
            return ModbusPoint(unit_id=table.unit_id, table=table.table, address=table.address)
        self._refuse_keys(table, _OF_MODBUS, bus.kind, place)
        if table.field is None:
            raise self._document.error((*place, "field"), f"required key is missing for {bus.kind}")
        if isinstance(bus, ReplayTable):
            return ReplayField(column=table.field, meaning=numbers.meaning())
        if isinstance(bus, OwnDriverTable):
            self._refuse_keys(table, ("scale", "polynomial"), f"{bus.kind}: give gain and offset", place)
            return LineField(group=table.field)
        groups = list(re.compile(bus.pattern).groupindex)
        if table.field not in groups:
            raise self._document.error(
                (*place, "field"), f'no group "{table.field}" in the pattern{nearest(table.field, groups)}'
            )
        return LineField(group=table.field, meaning=numbers.meaning())

    def _refuse_keys(self, table: ChannelTable, keys: tuple[str, ...], kind: str, place: Place) -> None:
        for key in keys:
            if getattr(table, key) is not None:
                raise self._document.error((*place, key), f"does not belong to a channel on {kind}")

    def _channel(
        self,
        table: ChannelTable,
        point: Point,
        numbers: ScalingReader,
        raw: tuple[float, float] | None,
    ) -> Channel:
        quantity = numbers.quantity
        place: Place = ("channel", str(quantity))
        scaling = numbers.scaling(point, raw)
        low, high = self._valid(numbers, table)
        self._check_second(quantity, table, place)
        sensor = table.sensor
        if sensor.calibrated and sensor.calibration_due and sensor.calibration_due <= sensor.calibrated:
            raise self._document.error(
                (*place, "sensor", "calibration_due"), "is not after the calibration date"
            )
        return Channel(
            quantity=quantity,
            scaling=scaling,
            rate_hz=table.rate,
            valid_min=low,
            valid_max=high,
            standard_uncertainty=self._uncertainty(numbers, table, place),
            is_tolerance=table.uncertainty is None and sensor.tolerance_class is not None,
            resolution=numbers.resolution(scaling),
            loop=numbers.loop(scaling, raw),
            max_change_per_s=_given(numbers, table, "max_change_per_s"),
            stuck_after_s=table.stuck_after,
            agrees_within=_given(numbers, table, "agrees_within"),
            sensor_serial=sensor.serial,
            calibrated_on="" if sensor.calibrated is None else sensor.calibrated.isoformat(),
            calibration_due="" if sensor.calibration_due is None else sensor.calibration_due.isoformat(),
        )

    def _check_second(self, quantity: Quantity, table: ChannelTable, place: Place) -> None:
        if table.agrees_within is None:
            return
        second = SECOND_OF.get(quantity)
        if second is None or second not in self._quantities:
            needed = "a second sensor" if second is None else f"[channel.{second}]"
            raise self._document.error((*place, "agrees_within"), f"needs {needed}, and there is none")

    def _uncertainty(self, numbers: ScalingReader, table: ChannelTable, place: Place) -> float | None:
        """Return what is declared, as a calibration tells it, else what the plate sensor's class allows."""
        of_class = table.sensor.tolerance_class
        where: Place = (*place, "sensor", "tolerance_class")
        if of_class is not None and numbers.quantity not in _TEMPERATURES:
            raise self._document.error(where, f"is of a temperature sensor, not of {numbers.quantity}")
        if table.uncertainty is not None:
            return numbers.difference("uncertainty")
        if of_class is None:
            return None
        try:
            return standard_uncertainty_degC(of_class, _PLATE_DEGC)
        except ValueError as error:
            raise self._document.error(where, f"{error}; the plate is at {_PLATE_DEGC:g} degC") from None

    def _valid(self, numbers: ScalingReader, table: ChannelTable) -> tuple[float | None, float | None]:
        if table.valid is None:
            return None, None
        low, high = numbers.pair("valid")
        if not low < high:
            raise numbers.error("valid", "must run from the least value to the greatest")
        return low, high


def _with_device(table: ChannelTable, device: DevicePoint) -> ChannelTable:
    """Fill in what the device says; a scaling in the rig file replaces the device's whole."""
    own = {key for key in table.model_fields_set if getattr(table, key) is not None}
    scaled = own & {"gain", "offset", "scale", "polynomial", "span"}
    dropped = own | ({"gain", "offset"} if scaled else set())
    return table.model_copy(update={k: v for k, v in keys_of(device).items() if k not in dropped})


def _given(numbers: ScalingReader, table: ChannelTable, key: str) -> float | None:
    return None if getattr(table, key) is None else numbers.difference(key)
