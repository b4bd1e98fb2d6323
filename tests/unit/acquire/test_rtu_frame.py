"""Frames against bytes from the published guide and worked out by hand."""

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.acquire.rtu_frame import Question, crc16, take_reply
from logger.domain.bus import Table
from tests.conftest import FULL_SIZE

ASKED = Question(unit_id=17, table=Table.HOLDING, address=107, count=3)
# MODBUS Application Protocol V1.1b3, 6.3: holding registers 108 to 110 hold 022B, 0000, 0064.
DATA = bytes.fromhex("022b00000064")


def slow_crc(data: bytes) -> bytes:
    """The polynomial division of the serial line guide, bit by bit, as the oracle of the table."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            carry = register & 1
            register >>= 1
            if carry:
                register ^= 0xA001
    return bytes((register & 0xFF, register >> 8))


def framed(body: bytes) -> bytes:
    return body + slow_crc(body)


ANSWER = framed(b"\x11\x03\x06" + DATA)


def is_value(reply) -> bool:
    """Would the reply be taken for the answer to `ASKED`?"""
    return reply is not None and (reply.function, len(reply.payload)) == (3, len(DATA))


def test_crc_of_a_known_frame():
    # The check value of CRC-16/MODBUS over the digits 1 to 9 is 4B37h, sent low byte first.
    assert crc16(b"123456789") == bytes.fromhex("374b")


@given(st.binary(max_size=260))
def test_the_table_divides_like_the_polynomial(data):
    assert crc16(data) == slow_crc(data)


@pytest.mark.parametrize(
    ("table", "code"), [(Table.COIL, 1), (Table.DISCRETE, 2), (Table.HOLDING, 3), (Table.INPUT, 4)]
)
def test_a_question_is_a_read(table, code):
    frame = Question(unit_id=2, table=table, address=0x0102, count=9).frame
    assert frame == framed(bytes((2, code, 1, 2, 0, 9)))


def test_the_answer_is_found():
    reply = take_reply(bytearray(ANSWER), ASKED)
    assert (reply.function, reply.payload, reply.exception) == (3, DATA, None)


@pytest.mark.parametrize(
    "front", ["00", "ff", "000000", "0703", "11", "1103", "110306", "1183", "11030b", "0b030c"]
)
def test_stray_bytes_in_front_cost_nothing(front):
    buffer = bytearray()
    for byte in bytes.fromhex(front) + ANSWER:
        assert take_reply(buffer, ASKED) is None
        buffer.append(byte)
    assert take_reply(buffer, ASKED).payload == DATA


@pytest.mark.parametrize(
    ("body", "function", "size"),
    [("110304022b0000", 3, 4), ("110308022b000000640000", 3, 8), ("110406022b00000064", 4, 6)],
    ids=["too few", "too many", "other function"],
)
def test_a_frame_of_another_shape_is_told_as_such_and_hides_nothing(body, function, size):
    buffer = bytearray(b"\x07" + framed(bytes.fromhex(body)) + ANSWER)
    first, second = take_reply(buffer, ASKED), take_reply(buffer, ASKED)
    assert (first.function, len(first.payload)) == (function, size)
    assert second.payload == DATA
    assert not buffer


def test_another_units_frame_is_passed_over():
    buffer = bytearray(framed(bytes.fromhex("120306022b00000064")) + ANSWER)
    assert take_reply(buffer, ASKED).payload == DATA


def test_a_refusal_carries_its_code():
    assert take_reply(bytearray(framed(b"\x11\x83\x02")), ASKED).exception == 2
    assert take_reply(bytearray(framed(b"\x12\x83\x02")), ASKED) is None


def test_a_short_frame_inside_the_data_is_not_mistaken_for_the_answer():
    inner = framed(b"\x11\x83\x02")
    asked = Question(unit_id=17, table=Table.HOLDING, address=0, count=4)
    whole = framed(b"\x11\x03\x08" + inner + b"\x00\x00\x00")
    for length in range(len(whole)):
        assert take_reply(bytearray(whole[:length]), asked) is None
    assert take_reply(bytearray(whole), asked).payload == inner + b"\x00\x00\x00"


FOUR = Question(unit_id=17, table=Table.HOLDING, address=107, count=4)
FOUR_ANSWER = framed(b"\x11\x03\x08" + DATA + b"\x12\x34")
"""13 bytes, 104 bits: the reply to a read of four registers."""


def is_taken(number: int) -> bool:
    """Would these 13 bytes be taken for the answer to `FOUR`?"""
    reply = take_reply(bytearray(number.to_bytes(len(FOUR_ANSWER), "little")), FOUR)
    return reply is not None and (reply.function, len(reply.payload)) == (3, 8)


WHOLE = int.from_bytes(FOUR_ANSWER, "little")
BITS = 8 * len(FOUR_ANSWER)


def test_the_sound_answer_is_taken():
    assert is_taken(WHOLE)


def test_up_to_three_flipped_bits_are_never_a_value():
    """All of them: 104 single, 5,356 double and 182,104 triple flips."""
    tried = 0
    for flips in (1, 2, 3):
        for positions in itertools.combinations(range(BITS), flips):
            tried += 1
            assert not is_taken(WHOLE ^ sum(1 << position for position in positions))
    assert tried == 104 + 5_356 + 182_104


def test_bursts_of_up_to_sixteen_bits_are_never_a_value():
    """Every place and length with a draw of what is between its ends; at full size every pattern."""
    draw = random.Random(815)
    for length in range(1, 17):
        inner = 1 << max(0, length - 2)
        patterns = range(inner) if FULL_SIZE or inner <= 16 else [draw.randrange(inner) for _ in range(16)]
        for start, pattern in itertools.product(range(BITS - length + 1), patterns):
            burst = 1 if length == 1 else 1 | pattern << 1 | 1 << length - 1
            assert not is_taken(WHOLE ^ burst << start)


def test_garbage_is_no_value():
    """0 of 50,000; the bound to keep is 4e-5, the chance by unit, function, length and CRC far below it."""
    draw = random.Random(99)
    for _ in range(50_000):
        found = take_reply(bytearray(draw.randbytes(draw.randrange(64))), ASKED)
        assert not is_value(found)
