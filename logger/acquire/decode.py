"""From what a device sent to the raw integers that are kept: nothing is scaled or repaired here. Pure.

What a text field means is counted in steps of its channel's gain: a text line has no counts of its own.
"""

import math
from collections.abc import Mapping, Sequence

from logger.acquire.grouping import RegisterRequest
from logger.domain.bus import AS_WRITTEN, Binding, LineField, ModbusPoint, ReplayField
from logger.domain.channel import WORDS_OF, Scaling
from logger.domain.sample import RawReading

_MOST_COUNTS = 2.0**62
"""What the record holds as an integer, with room."""


def payload_bytes(*, holds_bits: bool, count: int) -> int:
    """Return how many data bytes the answer to a read of `count` bits or registers has."""
    return (count + 7) // 8 if holds_bits else 2 * count


def readings_of_payload(request: RegisterRequest, payload: bytes) -> tuple[RawReading, ...]:
    """Cut the data bytes of an answer into one raw integer per binding of its request.

    Raises ValueError when the payload has not exactly the length that was asked for.
    """
    expected = payload_bytes(holds_bits=request.table.holds_bits, count=request.count)
    if len(payload) != expected:
        raise ValueError(f"{len(payload)} data bytes instead of {expected}")
    values = bits_of(payload) if request.table.holds_bits else words_of(payload)
    readings = []
    for binding in request.bindings:
        if isinstance(binding.point, ModbusPoint):
            start = binding.point.address - request.address
            width = WORDS_OF[binding.channel.scaling.data_type] or 1
            raw = raw_of_words(values[start : start + width])
            readings.append(RawReading(quantity=binding.channel.quantity, raw=raw))
    return tuple(readings)


def words_of(payload: bytes) -> tuple[int, ...]:
    """Return the 16-bit registers of a payload, each high byte first (MODBUS V1.1b3, 4.2)."""
    return tuple(int.from_bytes(payload[i : i + 2], "big") for i in range(0, len(payload), 2))


def bits_of(payload: bytes) -> tuple[int, ...]:
    """Return the bits of a payload, the lowest bit of each byte first (MODBUS V1.1b3, 6.1)."""
    return tuple(byte >> bit & 1 for byte in payload for bit in range(8))


def raw_of_words(words: Sequence[int]) -> int:
    """Join registers as they came into one unsigned integer, the first word most significant."""
    raw = 0
    for word in words:
        raw = raw << 16 | word
    return raw


def readings_of_fields(
    bindings: Sequence[Binding], fields: Mapping[str, str | None]
) -> tuple[RawReading, ...]:
    """Return one raw integer per binding whose field holds a number; an empty or missing field gives none.

    Raises ValueError where a field holds text that is no number.
    """
    readings = []
    for binding in bindings:
        point = binding.point
        meaning = AS_WRITTEN if isinstance(point, ModbusPoint) else point.meaning
        raw = count_of_text(fields.get(field_name(binding)), meaning, binding.channel.scaling)
        if raw is not None:
            readings.append(RawReading(quantity=binding.channel.quantity, raw=raw))
    return tuple(readings)


def field_name(binding: Binding) -> str:
    """Return the named group or column of a binding on a text line or a recording."""
    point = binding.point
    if isinstance(point, LineField):
        return point.group
    if isinstance(point, ReplayField):
        return point.column
    raise TypeError(f"{type(point).__name__} has no field")


def count_of_text(text: str | None, meaning: Scaling, scaling: Scaling) -> int | None:
    """Return the count whose scaled value is nearest to what `text` means; None for an empty field or NaN.

    Raises ValueError where the text is no number, or one too great to be counted.
    """
    if text is None or not text.strip():
        return None
    if "_" in text:  # Python would read 1_0 as ten.
        raise ValueError(f"{text[:30]!r} is no number")
    value = meaning.value_at(float(text))
    if not math.isfinite(value):
        return None
    count = (value - scaling.offset) / scaling.gain
    if not abs(count) < _MOST_COUNTS:
        raise ValueError(f"{text[:30]!r} is too great a number")
    return round(count)
