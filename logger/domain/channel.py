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


UNIT_OF: dict[Quantity, str] = {
    Quantity.PRESSURE: "bar",
    Quantity.PLATE_TEMPERATURE: "degC",
    Quantity.CARRIAGE: "mm",
    Quantity.PLATE_IN: "1",
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


_STRUCT_OF = {
    DataType.UINT16: ">H", DataType.INT16: ">h", DataType.UINT32: ">I", DataType.INT32: ">i",
    DataType.UINT64: ">Q", DataType.INT64: ">q", DataType.FLOAT32: ">f", DataType.FLOAT64: ">d",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaling:
    """Engineering value = gain x decoded number + offset, in the unit of `UNIT_OF`."""

    data_type: DataType = DataType.COUNT
    word_order: WordOrder = WordOrder.ABCD
    gain: float = 1.0
    offset: float = 0.0

    def value_of(self, raw: int) -> float:
        """Decode `raw` (register words as they came, first word most significant) to the engineering unit.

        Returns NaN where the device sent NaN or an infinity; nothing is clamped or repaired.
        """
        number = float(raw) if self.data_type is DataType.COUNT else self._number_of(raw)
        value = self.gain * number + self.offset
        return value if math.isfinite(value) else math.nan

    def _number_of(self, raw: int) -> float:
        words = WORDS_OF[self.data_type]
        data = raw.to_bytes(2 * words, "big")
        if self.word_order in (WordOrder.BADC, WordOrder.DCBA):
            data = b"".join(data[i + 1 : i + 2] + data[i : i + 1] for i in range(0, len(data), 2))
        if self.word_order in (WordOrder.CDAB, WordOrder.DCBA):
            data = b"".join(data[i : i + 2] for i in range(len(data) - 2, -2, -2))
        return float(struct.unpack(_STRUCT_OF[self.data_type], data)[0])


class Quality(StrEnum):
    """Whether a reading may be used."""

    GOOD = "good"
    OUT_OF_RANGE = "out_of_range"
    """Outside the channel's valid range (a broken wire, an over-range): kept as read, not used."""
    NOT_A_NUMBER = "not_a_number"


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One channel of a rig, without its transport.

    `valid_min` and `valid_max` bound what the sensor can mean; `standard_uncertainty` is None where nobody
    declared one; `resolution` is the smallest step in the engineering unit, 0 where unknown.
    """

    quantity: Quantity
    scaling: Scaling
    rate_hz: float = 10.0
    valid_min: float | None = None
    valid_max: float | None = None
    standard_uncertainty: float | None = None
    resolution: float = 0.0
    sensor_serial: str = ""
    calibrated_on: str = ""
    calibration_due: str = ""

    def quality_of(self, value: float) -> Quality:
        if math.isnan(value):
            return Quality.NOT_A_NUMBER
        low = self.valid_min is not None and value < self.valid_min
        high = self.valid_max is not None and value > self.valid_max
        return Quality.OUT_OF_RANGE if low or high else Quality.GOOD
