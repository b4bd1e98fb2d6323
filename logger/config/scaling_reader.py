"""What a channel's raw number means: type, bits, two points, gain and offset, or a polynomial."""

import math
from collections.abc import Callable
from typing import Any

from logger.config.quantity import (
    DISTANCE,
    GAUGE_POINT,
    TEMPERATURE,
    Kind,
    parse_difference,
    parse_quantity,
    zero_of,
)
from logger.config.rig_tables import ChannelTable
from logger.config.toml_file import Document, Place
from logger.domain.bus import AS_WRITTEN, ModbusPoint, Point
from logger.domain.channel import (
    FLOATS,
    WORDS_OF,
    CurrentLoop,
    DataType,
    Quantity,
    Scaling,
    WordOrder,
)

_KIND_OF: dict[Quantity, Kind] = {
    Quantity.PRESSURE: GAUGE_POINT,
    Quantity.PRESSURE_2: GAUGE_POINT,
    Quantity.PLATE_TEMPERATURE: TEMPERATURE,
    Quantity.PLATE_TEMPERATURE_2: TEMPERATURE,
    Quantity.CARRIAGE: DISTANCE,
}
_TEXT_STEP = 0.001
_RAW_STEPS = 4096
_WAYS = ("scale", "span", "gain", "polynomial")
_WAYS_OF_TEXT = ("span", "gain", "polynomial")
"""A scale says what the number in the text means, beside the step in which that is counted."""
_Parse = Callable[[object, Kind], float]


class ScalingReader:
    """Reads the numbers of one `[channel.X]`; errors name the key by its place in `document`."""

    def __init__(self, document: Document, quantity: Quantity, table: ChannelTable, place: Place) -> None:
        self._document = document
        self.quantity = quantity
        self._table = table
        self._place = place

    def scaling(self, point: Point, device_raw: tuple[float, float] | None) -> Scaling:
        """Return the scaling; `device_raw` are the raw numbers at the ends of a device's span."""
        data_type = self._data_type(point)
        is_text = not isinstance(point, ModbusPoint)
        ways = _WAYS_OF_TEXT if is_text else _WAYS
        given = [way for way in ways if getattr(self._table, way) is not None]
        if self._table.offset is not None and "gain" not in given:
            given.append("offset")
        if len(given) > 1:
            raise self.error(given[0], f"{given[1]} is given too; leave one out")
        way = given[0] if given else "gain"
        if way in ("span", "polynomial") and is_text:
            raise self.error(way, "is of registers; for the numbers of a text give scale")
        higher: tuple[float, ...] = ()
        if way == "polynomial":
            offset, gain, *rest = self._coefficients()
            higher = tuple(rest)
        elif way in ("scale", "span"):
            gain, offset = self._two_points(way, device_raw)
        else:
            gain, offset = self._gain(is_register=not is_text), self._offset()
        if gain == 0 and not any(higher):
            raise self.error(way, "cannot be zero")
        return Scaling(
            data_type=data_type,
            word_order=self._table.word_order or WordOrder.ABCD,
            bits=self._bits(data_type),
            gain=gain,
            offset=offset,
            higher=higher,
        )

    def meaning(self) -> Scaling:
        """Return what the number in a text means, without a scale the value itself."""
        if self._table.scale is None:
            return AS_WRITTEN
        gain, offset = self._two_points("scale", None)
        if gain == 0:
            raise self.error("scale", "the two values are the same")
        return Scaling(gain=gain, offset=offset)

    def loop(self, scaling: Scaling, device_raw: tuple[float, float] | None) -> CurrentLoop | None:
        """Return the two ends of a 4-20 mA signal, None for any other."""
        if self._table.signal is None:
            return None
        raw = device_raw if self._table.scale is None else self._table.scale.raw
        if raw is None or scaling.higher:
            raise self.error("signal", "needs scale = { raw = [...], value = [...] } at 4 and 20 mA")
        low, high = (scaling.value_at(number) for number in raw)
        return CurrentLoop(at_4_mA=low, at_20_mA=high)

    def resolution(self, scaling: Scaling) -> float:
        """Return the greatest step from one raw number to the next, 0 for floats."""
        if scaling.data_type in FLOATS:
            return 0.0
        if not scaling.higher:
            return abs(scaling.gain)
        bits = (
            16 * WORDS_OF[scaling.data_type]
            if scaling.bits is None
            else 1 + scaling.bits[1] - scaling.bits[0]
        )
        numbers = [2.0**bits * i / _RAW_STEPS for i in range(_RAW_STEPS)]
        low, high = self.pair("valid") if self._table.valid is not None else (-math.inf, math.inf)
        steps = [
            abs(scaling.value_at(number + 1) - value)
            for number in numbers
            if low <= (value := scaling.value_at(number)) <= high
        ]
        return max(steps, default=0.0)

    def error(self, key: str, message: str) -> Exception:
        return self._document.error((*self._place, key), message)

    def value(self, key: str, text: Any) -> float:
        return self._read(key, text, parse_quantity)

    def difference(self, key: str) -> float:
        """Return a difference that must not be negative."""
        value = self._read(key, getattr(self._table, key), parse_difference)
        if value < 0:
            raise self.error(key, "cannot be negative")
        return value

    def pair(self, key: str) -> tuple[float, float]:
        low, high = getattr(self._table, key)
        return self.value(key, low), self.value(key, high)

    def _coefficients(self) -> list[float]:
        constant, *others = self._table.polynomial or []
        values = [self.value("polynomial", constant)]
        return values + [self._read("polynomial", text, parse_difference) for text in others]

    def _two_points(self, way: str, device_raw: tuple[float, float] | None) -> tuple[float, float]:
        raw, texts = device_raw, self._table.span
        if self._table.scale is not None:
            raw, texts = self._table.scale.raw, self._table.scale.value
        if raw is None or texts is None:
            raise self.error(way, "needs a device whose point has raw numbers; give scale instead")
        (raw_a, raw_b), (a, b) = raw, (self.value(way, text) for text in texts)
        if raw_a == raw_b:
            raise self.error(way, "the two raw numbers are the same")
        gain = (b - a) / (raw_b - raw_a)
        return gain, a - gain * raw_a

    def _gain(self, *, is_register: bool) -> float:
        if self._table.gain is not None:
            return self._read("gain", self._table.gain, parse_difference)
        return 1.0 if is_register or self.quantity is Quantity.PLATE_IN else _TEXT_STEP

    def _offset(self) -> float:
        """Return the offset; left out it is 0 in the unit of the gain, which for degF is not 0 degC."""
        if self._table.offset is not None:
            return self.value("offset", self._table.offset)
        if self._table.gain is None or self.quantity is Quantity.PLATE_IN:
            return 0.0
        return self._read("gain", self._table.gain, zero_of)

    def _data_type(self, point: Point) -> DataType:
        given = self._table.type
        if not isinstance(point, ModbusPoint) or point.table.holds_bits:
            if given not in (None, DataType.COUNT):
                raise self.error("type", f'"{given}" needs registers; a bit has no type')
            return DataType.COUNT
        if given is None or given is DataType.COUNT:
            raise self.error("type", 'a register type is needed, like "int16" or "float32"')
        return given

    def _bits(self, data_type: DataType) -> tuple[int, int] | None:
        bits = self._table.bits
        if bits is None:
            return None
        if data_type in FLOATS or data_type is DataType.COUNT:
            raise self.error("bits", f"an integer type is needed, not {data_type}")
        width = 16 * WORDS_OF[data_type]
        if not bits[0] <= bits[1] < width:
            raise self.error("bits", f"must run from the lowest to the highest within 0 to {width - 1}")
        return bits

    def _read(self, key: str, text: Any, parse: _Parse) -> float:
        if self.quantity is Quantity.PLATE_IN:
            if isinstance(text, bool) or not isinstance(text, int | float):
                raise self.error(key, f"{text!r}: plate_in has no unit; a plain number is needed")
            return float(text)
        try:
            return parse(text, _KIND_OF[self.quantity])
        except ValueError as error:
            raise self.error(key, str(error)) from None
