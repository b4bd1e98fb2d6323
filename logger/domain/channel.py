"""A channel is a quantity, a source and a scaling. Here: the quantity and the scaling, without I/O."""

import math
import struct
from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """What a channel measures; the trace CSV's columns without their units."""

    PRESSURE = "pressure"
    PLATE_TEMPERATURE = "plate_temperature"
    CARRIAGE = "carriage"
    PLATE_IN = "plate_in"
    PRESSURE_2 = "pressure_2"
    """A second sensor: recorded, and compared with the first; nothing else uses it."""
    PLATE_TEMPERATURE_2 = "plate_temperature_2"


SECOND_OF: dict[Quantity, Quantity] = {
    Quantity.PRESSURE: Quantity.PRESSURE_2,
    Quantity.PLATE_TEMPERATURE: Quantity.PLATE_TEMPERATURE_2,
}

UNIT_OF: dict[Quantity, str] = {
    Quantity.PRESSURE: "bar",
    Quantity.PLATE_TEMPERATURE: "degC",
    Quantity.CARRIAGE: "mm",
    Quantity.PLATE_IN: "1",
    Quantity.PRESSURE_2: "bar",
    Quantity.PLATE_TEMPERATURE_2: "degC",
}


class DataType(StrEnum):
    """How a raw integer is to be read. `COUNT` is a plain signed integer (text line, CSV, bit)."""

    UINT16 = "uint16"
    INT16 = "int16"
    UINT32 = "uint32"
    INT32 = "int32"
    UINT64 = "uint64"
    INT64 = "int64"
    FLOAT32 = "float32"
    FLOAT64 = "float64"
    COUNT = "count"


WORDS_OF: dict[DataType, int] = {
    DataType.UINT16: 1, DataType.INT16: 1, DataType.UINT32: 2, DataType.INT32: 2, DataType.FLOAT32: 2,
    DataType.UINT64: 4, DataType.INT64: 4, DataType.FLOAT64: 4, DataType.COUNT: 0,
}  # fmt: skip


class WordOrder(StrEnum):
    """Order of the bytes on the wire, A being the most significant; longer types repeat the pattern."""

    ABCD = "ABCD"
    CDAB = "CDAB"
    BADC = "BADC"
    DCBA = "DCBA"


SIGNED = (DataType.INT16, DataType.INT32, DataType.INT64)
FLOATS = (DataType.FLOAT32, DataType.FLOAT64)

_STRUCT_OF = {
    DataType.UINT16: ">H", DataType.INT16: ">h", DataType.UINT32: ">I", DataType.INT32: ">i",
    DataType.UINT64: ">Q", DataType.INT64: ">q", DataType.FLOAT32: ">f", DataType.FLOAT64: ">d",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaling:
    """Engineering value = offset + gain x number + higher[0] x number^2 + ..., in the unit of `UNIT_OF`.

    `bits` cuts the number out of an integer register: lowest and highest bit, 0 being the least significant;
    in a signed type the highest of them is the sign.
    """

    data_type: DataType = DataType.COUNT
    word_order: WordOrder = WordOrder.ABCD
    bits: tuple[int, int] | None = None
    gain: float = 1.0
    offset: float = 0.0
    higher: tuple[float, ...] = ()

    def value_of(self, raw: int) -> float:
        """Decode `raw` (register words as they came, first word most significant) to the engineering unit.

        Returns NaN where the device sent NaN or an infinity; nothing is clamped or repaired.
        """
        return self.value_at(self.number_of(raw))

    def value_at(self, number: float) -> float:
        """Return the engineering value of a decoded number, NaN where it is not finite."""
        value = self.gain * number + self.offset
        for power, coefficient in enumerate(self.higher, start=2):
            value += coefficient * number**power
        return value if math.isfinite(value) else math.nan

    def number_of(self, raw: int) -> float:
        """Return the number that the device means, not yet scaled."""
        if self.data_type is DataType.COUNT:
            return float(raw)
        number = number_in(raw, self.data_type, self.word_order)
        return float(number) if self.bits is None else float(self._field_of(int(number)))

    def _field_of(self, number: int) -> int:
        low, high = self.bits or (0, 0)
        width = high - low + 1
        field = number >> low & (1 << width) - 1
        is_negative = self.data_type in SIGNED and field >> width - 1
        return field - (1 << width) if is_negative else field


def number_in(raw: int, data_type: DataType, word_order: WordOrder) -> int | float:
    """Return the integer or float in register words joined into `raw`; OverflowError if they are too many."""
    data = raw.to_bytes(2 * WORDS_OF[data_type], "big")
    if word_order in (WordOrder.BADC, WordOrder.DCBA):
        data = b"".join(data[i + 1 : i + 2] + data[i : i + 1] for i in range(0, len(data), 2))
    if word_order in (WordOrder.CDAB, WordOrder.DCBA):
        data = b"".join(data[i : i + 2] for i in range(len(data) - 2, -2, -2))
    number: int | float = struct.unpack(_STRUCT_OF[data_type], data)[0]
    return number


class Quality(StrEnum):
    """Whether a reading may be used. What is not good is kept as read and not used; nothing is repaired."""

    GOOD = "good"
    NOT_A_NUMBER = "not_a_number"
    OUT_OF_RANGE = "out_of_range"
    """Outside what the sensor can mean."""
    LOOP_LOW = "loop_low"
    """A 4-20 mA signal at its lower failure level: broken wire, lost supply."""
    LOOP_HIGH = "loop_high"
    """A 4-20 mA signal at its upper failure level: over-range, short circuit."""
    TOO_FAST = "too_fast"
    """Changed faster than the declared greatest change."""
    STUCK = "stuck"
    """The same raw number for longer than this sensor ever rests."""
    DISAGREES = "disagrees"
    """Two sensors of one quantity are further apart than declared, and neither is believed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentLoop:
    """A 4-20 mA signal: the engineering values at its two ends."""

    at_4_mA: float
    at_20_mA: float

    def current_mA(self, value: float) -> float:
        return 4.0 + 16.0 * (value - self.at_4_mA) / (self.at_20_mA - self.at_4_mA)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One channel of a rig, without its transport.

    `valid_min` and `valid_max` bound what the sensor can mean; `standard_uncertainty` is None where nobody
    declared one, and follows from a tolerance, a bound with nothing beyond it, where `is_tolerance` says so:
    then the bound is sqrt 3 times as wide; `resolution` is the smallest step in the engineering unit, 0 where
    unknown. What may be marked as implausible (`domain/plausibility.py`) is None where nobody declared it:
    `max_change_per_s`, the greatest change in a second; `stuck_after_s`; `agrees_within`, of a first sensor
    with its second.
    """

    quantity: Quantity
    scaling: Scaling
    rate_hz: float = 10.0
    valid_min: float | None = None
    valid_max: float | None = None
    standard_uncertainty: float | None = None
    is_tolerance: bool = False
    resolution: float = 0.0
    loop: CurrentLoop | None = None
    max_change_per_s: float | None = None
    stuck_after_s: float | None = None
    agrees_within: float | None = None
    sensor_serial: str = ""
    calibrated_on: str = ""
    calibration_due: str = ""


def is_overdue(calibration_due: str, utc: str) -> bool:
    """Whether a calibration was due (ISO date, empty where none is declared) before the day of `utc`."""
    return bool(calibration_due) and calibration_due < utc[:10]
