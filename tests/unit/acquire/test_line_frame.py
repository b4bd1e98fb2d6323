"""Text lines taken out of their frame, against checksums worked by hand and by other means."""

import binascii
import random

import pytest

from logger.acquire.line_frame import text_in
from logger.domain.bus import Checksum, SerialLineBus


def bus(**keys) -> SerialLineBus:
    return SerialLineBus(name="b", path="p", pattern="(?P<x>.*)", **keys)


def test_a_plain_line_is_its_text() -> None:
    assert text_in(bus(), b"P=18.4\r") == "P=18.4"


def test_what_stands_in_front_of_the_last_start_is_dropped() -> None:
    assert text_in(bus(line_start="$"), b"\xff\x00$P=1$P=18.4") == "P=18.4"
    with pytest.raises(ValueError, match="does not begin with"):
        text_in(bus(line_start="$"), b"P=18.4")


@pytest.mark.parametrize(
    ("kind", "line"),
    [
        # "AB": 41h xor 42h is 03h, their sum 83h.
        (Checksum.XOR, b"AB*03"),
        (Checksum.SUM, b"AB*83"),
        # The check value of CRC-16/MODBUS over the digits 1 to 9 is 4B37h.
        (Checksum.CRC16, b"123456789*4B37"),
    ],
)
def test_a_right_checksum_is_taken_off(kind: Checksum, line: bytes) -> None:
    assert text_in(bus(checksum=kind, checksum_mark="*"), line) == line.split(b"*")[0].decode()


def test_small_letters_are_digits_too() -> None:
    """ "Jo": 4Ah xor 6Fh is 25h; "J5": sum 7Fh."""
    assert text_in(bus(checksum=Checksum.SUM), b"J57f") == "J5"


@pytest.mark.parametrize("line", [b"AB*04", b"AB03", b"*03", b"", b"3", b"AB*0\xb3", b"AC*03"])
def test_a_wrong_checksum_is_no_line(line: bytes) -> None:
    with pytest.raises(ValueError, match="checksum"):
        text_in(bus(checksum=Checksum.XOR, checksum_mark="*"), line)


def test_a_byte_outside_the_encoding_is_no_line() -> None:
    with pytest.raises(UnicodeDecodeError):
        text_in(bus(), b"P=\xb5")
    assert text_in(bus(encoding="latin-1"), b"P=\xb5") == "P=µ"


def test_every_single_flipped_bit_is_found_by_a_crc() -> None:
    proven = bus(checksum=Checksum.CRC16)
    payload = b"P=  18.42 T=221.3"
    line = payload + binascii.hexlify(_slow_crc(payload))
    assert text_in(proven, line) == payload.decode()
    for bit in range(8 * len(payload)):
        damaged = bytearray(line)
        damaged[bit // 8] ^= 1 << bit % 8
        with pytest.raises(ValueError, match=r"checksum|codec"):
            text_in(proven, bytes(damaged))


def test_garbage_is_refused_and_nothing_else_happens() -> None:
    draw = random.Random(12)
    for _ in range(2000):
        kind = draw.choice(list(Checksum))
        try:
            text_in(bus(checksum=kind, line_start=draw.choice(["", "$"])), draw.randbytes(draw.randrange(30)))
        except ValueError:
            continue


def _slow_crc(data: bytes) -> bytes:
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ 0xA001 if register & 1 else register >> 1
    return register.to_bytes(2, "big")
