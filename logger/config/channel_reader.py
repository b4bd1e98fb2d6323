"""One `[channel.X]` table of RIG.toml to a binding: where it is read and what its raw number means."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from logger.config.formula import nearest
from logger.config.quantity import (
    DISTANCE,
    GAUGE_POINT,
    TEMPERATURE,
    Kind,
    parse_difference,
    parse_quantity,
    zero_of,
)
from logger.config.rig_tables import BusTable, ChannelTable, ReplayTable, RtuTable, SensorTable, TcpTable
from logger.config.toml_file import Document, Place
from logger.domain.bus import Binding, LineField, ModbusPoint, Point, ReplayField
from logger.domain.channel import Channel, DataType, Quantity, Scaling, WordOrder
from logger.domain.sensor_class import standard_uncertainty_degC

_KIND_OF: dict[Quantity, Kind] = {
    Quantity.PRESSURE: GAUGE_POINT,
    Quantity.PLATE_TEMPERATURE: TEMPERATURE,
    Quantity.CARRIAGE: DISTANCE,
}
_TEXT_STEP = 0.001
_PLATE_DEGC = 220.0
_FLOATS = (DataType.FLOAT32, DataType.FLOAT64)
_Parse = Callable[[object, Kind], float]


class ChannelReader:
    """Reads the channels of one rig file; errors name the key by its place in `document`."""

    def __init__(self, *, document: Document, buses: Mapping[str, BusTable]) -> None:
        self._document = document
        self._buses = buses

    def binding(self, quantity: Quantity, table: ChannelTable) -> Binding:
        place: Place = ("channel", str(quantity))
        if table.bus not in self._buses:
            raise self._document.error(
                (*place, "bus"), f'unknown bus "{table.bus}"{nearest(table.bus, list(self._buses))}'
            )
        point = self._point(table, self._buses[table.bus], place)
        return Binding(channel=self._channel(quantity, table, point, place), bus=table.bus, point=point)

    def _point(self, table: ChannelTable, bus: BusTable, place: Place) -> Point:
        of_modbus = ("unit_id", "table", "address", "type", "word_order")
        if isinstance(bus, TcpTable | RtuTable):
            self._refuse_keys(table, ("field",), bus.kind, place)
            if table.unit_id is None or table.table is None or table.address is None:
                missing = next(key for key in of_modbus[:3] if getattr(table, key) is None)
                raise self._document.error((*place, missing), f"required key is missing for {bus.kind}")
            return ModbusPoint(unit_id=table.unit_id, table=table.table, address=table.address)
        self._refuse_keys(table, of_modbus, bus.kind, place)
        if table.field is None:
            raise self._document.error((*place, "field"), f"required key is missing for {bus.kind}")
        if isinstance(bus, ReplayTable):
            return ReplayField(column=table.field)
        groups = list(re.compile(bus.pattern).groupindex)
        if table.field not in groups:
            raise self._document.error(
                (*place, "field"), f'no group "{table.field}" in the pattern{nearest(table.field, groups)}'
            )
        return LineField(group=table.field)

    def _refuse_keys(self, table: ChannelTable, keys: tuple[str, ...], kind: str, place: Place) -> None:
        for key in keys:
            if getattr(table, key) is not None:
                raise self._document.error((*place, key), f"does not belong to a channel on {kind}")

    def _channel(self, quantity: Quantity, table: ChannelTable, point: Point, place: Place) -> Channel:
        scaling = self._scaling(quantity, table, point, place)
        low, high = self._valid(quantity, table, place)
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
            standard_uncertainty=self._uncertainty(quantity, table, (*place, "uncertainty")),
            resolution=0.0 if scaling.data_type in _FLOATS else abs(scaling.gain),
            sensor_serial=sensor.serial,
            calibrated_on="" if sensor.calibrated is None else sensor.calibrated.isoformat(),
            calibration_due="" if sensor.calibration_due is None else sensor.calibration_due.isoformat(),
        )

    def _scaling(self, quantity: Quantity, table: ChannelTable, point: Point, place: Place) -> Scaling:
        data_type = self._data_type(table, point, place)
        is_text = not isinstance(point, ModbusPoint)
        if table.scale is not None:
            if table.gain is not None or table.offset is not None:
                raise self._document.error((*place, "scale"), "gain or offset is given too; leave one out")
            if is_text:
                raise self._document.error((*place, "scale"), "text is already a value; give gain, its step")
            gain, offset = self._two_points(quantity, table, place)
        else:
            default = _TEXT_STEP if is_text and quantity is not Quantity.PLATE_IN else 1.0
            gain = default if table.gain is None else self._difference(quantity, table.gain, (*place, "gain"))
            offset = self._offset(quantity, table, place)
        if gain == 0:
            raise self._document.error((*place, "gain"), "cannot be zero")
        return Scaling(
            data_type=data_type, word_order=table.word_order or WordOrder.ABCD, gain=gain, offset=offset
        )

    def _offset(self, quantity: Quantity, table: ChannelTable, place: Place) -> float:
        """Return the offset; left out it is 0 in the unit of the gain, which for degF is not 0 degC."""
        if table.offset is not None:
            return self._value(quantity, table.offset, (*place, "offset"))
        if table.gain is None or quantity is Quantity.PLATE_IN:
            return 0.0
        return self._read(quantity, table.gain, (*place, "gain"), zero_of)

    def _data_type(self, table: ChannelTable, point: Point, place: Place) -> DataType:
        if not isinstance(point, ModbusPoint) or point.table.holds_bits:
            if table.type not in (None, DataType.COUNT):
                raise self._document.error(
                    (*place, "type"), f'"{table.type}" needs registers; a bit has no type'
                )
            return DataType.COUNT
        if table.type is None or table.type is DataType.COUNT:
            raise self._document.error(
                (*place, "type"), 'a register type is needed, like "int16" or "float32"'
            )
        return table.type

    def _two_points(self, quantity: Quantity, table: ChannelTable, place: Place) -> tuple[float, float]:
        if table.scale is None:
            raise ValueError("no scale")
        (raw_a, raw_b), place = table.scale.raw, (*place, "scale")
        if raw_a == raw_b:
            raise self._document.error(place, "the two raw numbers are the same")
        a, b = (self._value(quantity, value, place) for value in table.scale.value)
        gain = (b - a) / (raw_b - raw_a)
        return gain, a - gain * raw_a

    def _uncertainty(self, quantity: Quantity, table: ChannelTable, place: Place) -> float | None:
        if table.uncertainty is None:
            return self._of_class(quantity, table.sensor, place)
        value = self._difference(quantity, table.uncertainty, place)
        if value < 0:
            raise self._document.error(place, "cannot be negative")
        return value

    def _of_class(self, quantity: Quantity, sensor: SensorTable, place: Place) -> float | None:
        """Return the standard uncertainty of the sensor's class at plate temperature, if it has one."""
        if sensor.tolerance_class is None:
            return None
        where: Place = (*place[:-1], "sensor", "tolerance_class")
        if quantity is not Quantity.PLATE_TEMPERATURE:
            raise self._document.error(where, f"is of a temperature sensor, not of {quantity}")
        try:
            return standard_uncertainty_degC(sensor.tolerance_class, _PLATE_DEGC)
        except ValueError as error:
            raise self._document.error(where, f"{error}; the plate is at {_PLATE_DEGC:g} degC") from None

    def _valid(
        self, quantity: Quantity, table: ChannelTable, place: Place
    ) -> tuple[float | None, float | None]:
        if table.valid is None:
            return None, None
        low, high = (self._value(quantity, value, (*place, "valid")) for value in table.valid)
        if not low < high:
            raise self._document.error((*place, "valid"), "must run from the least value to the greatest")
        return low, high

    def _value(self, quantity: Quantity, text: Any, place: Place) -> float:
        return self._read(quantity, text, place, parse_quantity)

    def _difference(self, quantity: Quantity, text: Any, place: Place) -> float:
        return self._read(quantity, text, place, parse_difference)

    def _read(self, quantity: Quantity, text: Any, place: Place, parse: _Parse) -> float:
        if quantity is Quantity.PLATE_IN:
            if isinstance(text, bool) or not isinstance(text, int | float):
                raise self._document.error(place, f"{text!r}: plate_in has no unit; a plain number is needed")
            return float(text)
        try:
            return parse(text, _KIND_OF[quantity])
        except ValueError as error:
            raise self._document.error(place, str(error)) from None
