"""A text line as it came, taken out of its start, end and checksum. Pure."""

from functools import reduce
from operator import xor

from logger.acquire.rtu_frame import crc16
from logger.domain.bus import Checksum, SerialLineBus

_DIGITS = {Checksum.XOR: 2, Checksum.SUM: 2, Checksum.CRC16: 4}


def text_in(bus: SerialLineBus, data: bytes) -> str:
    """Return the text between the last start and the checksum of a line whose end is already cut off.

    Raises ValueError (UnicodeDecodeError is one) where the start is missing, a byte is not in the encoding or
    the checksum is not that of the text.
    """
    data = data.rstrip(b"\r")
    if bus.line_start:
        _, start, data = data.rpartition(bus.line_start.encode(bus.encoding))
        if not start:
            raise ValueError(f"it does not begin with {bus.line_start!r}")
    if bus.checksum is not Checksum.NONE:
        data = _proven(bus, data)
    return data.decode(bus.encoding)


def _proven(bus: SerialLineBus, data: bytes) -> bytes:
    digits = _DIGITS[bus.checksum]
    mark = bus.checksum_mark.encode(bus.encoding)
    payload, told = data[:-digits], data[-digits:]
    if not payload.endswith(mark):
        raise ValueError(f"no {bus.checksum_mark!r} in front of its checksum")
    payload = payload[: len(payload) - len(mark)]
    if told.upper() != checksum_of(bus.checksum, payload):
        raise ValueError(f"its checksum is {told!r}, not {checksum_of(bus.checksum, payload)!r}")
    return payload


def checksum_of(kind: Checksum, payload: bytes) -> bytes:
    """Return the digits of a checksum, in capitals."""
    if kind is Checksum.CRC16:
        return crc16(payload)[::-1].hex().upper().encode()
    number = reduce(xor, payload, 0) if kind is Checksum.XOR else sum(payload) % 256
    return b"%02X" % number
