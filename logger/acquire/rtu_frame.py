"""Modbus RTU frames for reading: the question, and the search for its answer in the bytes that came. Pure.

Layout and CRC after "MODBUS over Serial Line, Specification and Implementation Guide V1.02", 2.5.1 and
appendix B (from memory); function codes after "MODBUS Application Protocol V1.1b3", 6.1 to 6.4.
"""

from dataclasses import dataclass

from logger.acquire.decode import payload_bytes
from logger.domain.bus import Table

FUNCTION_OF: dict[Table, int] = {Table.COIL: 1, Table.DISCRETE: 2, Table.HOLDING: 3, Table.INPUT: 4}
EXCEPTION_FLAG = 0x80
EXCEPTION_BYTES = 5
OVERHEAD_BYTES = 5  # unit, function, byte count, two of CRC
QUESTION_BYTES = 8

EXCEPTION_NAMES = {
    1: "illegal function",
    2: "illegal data address",
    3: "illegal data value",
    4: "device failure",
    5: "acknowledge",
    6: "device busy",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "gateway target did not respond",
}


def exception_text(code: int) -> str:
    """Return the words for an exception code (MODBUS V1.1b3, 7)."""
    return f"the device refused with exception {code} ({EXCEPTION_NAMES.get(code, 'unknown')})"


def _crc_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
        table.append(crc)
    return tuple(table)


_CRC_TABLE = _crc_table()


def crc16(data: bytes) -> bytes:
    """Return the two CRC bytes in the order in which they are sent."""
    crc = 0xFFFF
    for byte in data:
        crc = crc >> 8 ^ _CRC_TABLE[(crc ^ byte) & 0xFF]
    return crc.to_bytes(2, "little")


@dataclass(frozen=True, slots=True)
class Question:
    """One read: `count` registers or bits of `table` from `address`."""

    unit_id: int
    table: Table
    address: int
    count: int

    @property
    def function(self) -> int:
        return FUNCTION_OF[self.table]

    @property
    def answer_payload_bytes(self) -> int:
        return payload_bytes(holds_bits=self.table.holds_bits, count=self.count)

    @property
    def frame(self) -> bytes:
        body = bytes((self.unit_id, self.function))
        body += self.address.to_bytes(2, "big") + self.count.to_bytes(2, "big")
        return body + crc16(body)


@dataclass(frozen=True, slots=True)
class Reply:
    """One whole frame: the data bytes of an answer, or the code of an exception."""

    function: int
    payload: bytes = b""
    exception: int | None = None


def take_reply(buffer: bytearray, question: Question) -> Reply | None:
    """Cut the next whole frame of the asked unit out of `buffer`, with all in front of it; None without one.

    Bytes in front of a frame, and frames of other units, do no harm. The reply may still be the answer to
    another question than `question`, whose answer is only protected while it is coming in.
    """
    at = 0
    while len(buffer) - at >= EXCEPTION_BYTES:
        frame = _frame_at(buffer, at)
        if frame is None:
            if _may_become_answer(buffer, at, question):
                return None  # Its bytes could hold a short frame by accident: wait for the rest.
            at += 1
            continue
        del buffer[: at + len(frame)]
        at = 0
        if frame[0] == question.unit_id:
            function = frame[1] & ~EXCEPTION_FLAG
            if frame[1] & EXCEPTION_FLAG:
                return Reply(function, exception=frame[2])
            return Reply(function, payload=frame[3:-2])
    return None


def _frame_at(buffer: bytearray, at: int) -> bytes | None:
    """Return the whole answer frame of any unit that begins at `at`, or None."""
    function = buffer[at + 1]
    if not 1 <= function & ~EXCEPTION_FLAG <= 4:
        return None
    length = EXCEPTION_BYTES if function & EXCEPTION_FLAG else OVERHEAD_BYTES + buffer[at + 2]
    frame = bytes(buffer[at : at + length])
    return frame if len(frame) == length and crc16(frame[:-2]) == frame[-2:] else None


def _may_become_answer(buffer: bytearray, at: int, question: Question) -> bool:
    head = bytes((question.unit_id, question.function, question.answer_payload_bytes))
    length = OVERHEAD_BYTES + question.answer_payload_bytes
    return bytes(buffer[at : at + 3]) == head and len(buffer) - at < length
