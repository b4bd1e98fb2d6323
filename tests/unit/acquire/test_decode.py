"""Bytes on the wire against values worked out by hand; nothing here packs with the code under test."""

import pytest

from logger.acquire.decode import (
    bits_of,
    count_of_text,
    payload_bytes,
    readings_of_fields,
    readings_of_payload,
)
from logger.acquire.grouping import RegisterRequest
from logger.domain.bus import Binding, ModbusPoint, Table
from logger.domain.channel import DataType, Quantity, Scaling, WordOrder
from tests.unit.acquire.rig_builders import bit, channel, register, text

# Twos complement: 2^16 - 2 = FFFE; 2^32 - 100000 = FFFE7960; 2^64 - 3 = FF..FD.
# IEEE 754: 18.4 = 1.15 x 2^4, exponent 127 + 4 = 83h, fraction 0.15 x 2^23 = 1258291 = 133333h: 41933333h.
# -2.5 = -1.25 x 2^1, exponent 1023 + 1 = 400h with sign C00h, fraction 0.25 = 4000000000000h.
VECTORS = [
    (DataType.UINT16, WordOrder.ABCD, "ff fe", 65534.0),
    (DataType.UINT16, WordOrder.CDAB, "ff fe", 65534.0),
    (DataType.UINT16, WordOrder.BADC, "fe ff", 65534.0),
    (DataType.UINT16, WordOrder.DCBA, "fe ff", 65534.0),
    (DataType.INT16, WordOrder.ABCD, "ff fe", -2.0),
    (DataType.INT16, WordOrder.BADC, "fe ff", -2.0),
    (DataType.UINT32, WordOrder.ABCD, "12 34 56 78", 305419896.0),
    (DataType.UINT32, WordOrder.CDAB, "56 78 12 34", 305419896.0),
    (DataType.UINT32, WordOrder.BADC, "34 12 78 56", 305419896.0),
    (DataType.UINT32, WordOrder.DCBA, "78 56 34 12", 305419896.0),
    (DataType.INT32, WordOrder.ABCD, "ff fe 79 60", -100000.0),
    (DataType.INT32, WordOrder.CDAB, "79 60 ff fe", -100000.0),
    (DataType.INT32, WordOrder.BADC, "fe ff 60 79", -100000.0),
    (DataType.INT32, WordOrder.DCBA, "60 79 fe ff", -100000.0),
    (DataType.FLOAT32, WordOrder.ABCD, "41 93 33 33", 18.399999618530273),
    (DataType.FLOAT32, WordOrder.CDAB, "33 33 41 93", 18.399999618530273),
    (DataType.FLOAT32, WordOrder.BADC, "93 41 33 33", 18.399999618530273),
    (DataType.FLOAT32, WordOrder.DCBA, "33 33 93 41", 18.399999618530273),
    (DataType.UINT64, WordOrder.ABCD, "00 00 01 23 45 67 89 ab", 1250999896491.0),
    (DataType.UINT64, WordOrder.CDAB, "89 ab 45 67 01 23 00 00", 1250999896491.0),
    (DataType.UINT64, WordOrder.BADC, "00 00 23 01 67 45 ab 89", 1250999896491.0),
    (DataType.UINT64, WordOrder.DCBA, "ab 89 67 45 23 01 00 00", 1250999896491.0),
    (DataType.INT64, WordOrder.ABCD, "ff ff ff ff ff ff ff fd", -3.0),
    (DataType.INT64, WordOrder.CDAB, "ff fd ff ff ff ff ff ff", -3.0),
    (DataType.INT64, WordOrder.DCBA, "fd ff ff ff ff ff ff ff", -3.0),
    (DataType.FLOAT64, WordOrder.ABCD, "c0 04 00 00 00 00 00 00", -2.5),
    (DataType.FLOAT64, WordOrder.CDAB, "00 00 00 00 00 00 c0 04", -2.5),
    (DataType.FLOAT64, WordOrder.BADC, "04 c0 00 00 00 00 00 00", -2.5),
    (DataType.FLOAT64, WordOrder.DCBA, "00 00 00 00 00 00 04 c0", -2.5),
]


def request(*bindings: Binding, address: int, count: int, table: Table = Table.HOLDING) -> RegisterRequest:
    return RegisterRequest(
        unit_id=1, table=table, address=address, count=count, rate_hz=10.0, bindings=bindings
    )


@pytest.mark.parametrize(("data_type", "order", "wire", "value"), VECTORS)
def test_each_type_in_each_order(data_type, order, wire, value):
    payload = bytes.fromhex(wire)
    one = Binding(
        channel=channel(Quantity.PRESSURE, data_type, word_order=order),
        bus="field",
        point=ModbusPoint(unit_id=1, table=Table.HOLDING, address=700),
    )
    asked = request(one, address=700, count=len(payload) // 2)
    (reading,) = readings_of_payload(asked, payload)
    assert reading.raw == int(wire.replace(" ", ""), 16), "the words are kept as they came"
    assert one.channel.scaling.value_of(reading.raw) == value


def test_channels_are_cut_out_at_their_addresses():
    pressure = register(Quantity.PRESSURE, 102, DataType.UINT32)
    plate = register(Quantity.PLATE_TEMPERATURE, 105)
    asked = request(pressure, plate, address=100, count=6)
    payload = bytes.fromhex("aaaa bbbb 0001 0002 cccc 0dac")
    assert [(r.quantity, r.raw) for r in readings_of_payload(asked, payload)] == [
        (Quantity.PRESSURE, 0x00010002),
        (Quantity.PLATE_TEMPERATURE, 3500),
    ]


def test_bits_count_from_the_lowest_of_each_byte():
    assert bits_of(b"\x05\x80") == (1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1)
    plate_in = bit(Quantity.PLATE_IN, 35)
    asked = request(plate_in, address=20, count=16, table=Table.COIL)
    (reading,) = readings_of_payload(asked, b"\x00\x80")
    assert reading.raw == 1


@pytest.mark.parametrize(("count", "size"), [(1, 1), (8, 1), (9, 2), (16, 2), (2000, 250)])
def test_size_of_a_bit_answer(count, size):
    assert payload_bytes(holds_bits=True, count=count) == size


@pytest.mark.parametrize("payload", [b"", b"\x00", b"\x00\x01\x00", b"\x00\x01\x00\x02"])
def test_an_answer_of_another_length_is_refused(payload):
    asked = request(register(Quantity.PRESSURE, 7), address=7, count=1)
    with pytest.raises(ValueError, match=f"{len(payload)} data bytes instead of 2"):
        readings_of_payload(asked, payload)


@pytest.mark.parametrize(
    ("written", "gain", "offset", "count"),
    [
        ("18.40", 0.01, 0.0, 1840),
        ("-0.07", 0.01, 0.0, -7),
        (" 215.3 ", 0.1, 0.0, 2153),
        ("1e2", 0.5, 0.0, 200),
        ("21.5", 0.5, 20.0, 3),
        ("1", 1.0, 0.0, 1),
        ("", 1.0, 0.0, None),
        ("  ", 1.0, 0.0, None),
        ("nan", 1.0, 0.0, None),
        (None, 1.0, 0.0, None),
    ],
)
def test_text_is_counted_in_steps_of_the_gain(written, gain, offset, count):
    assert count_of_text(written, Scaling(), Scaling(gain=gain, offset=offset)) == count


def test_an_empty_field_is_no_reading_and_a_word_is_an_error():
    fields = (text(Quantity.PRESSURE, "p"), text(Quantity.CARRIAGE, "x"))
    assert [r.quantity for r in readings_of_fields(fields, {"p": "", "x": "2"})] == [Quantity.CARRIAGE]
    with pytest.raises(ValueError, match="could not convert"):
        readings_of_fields(fields, {"p": "ERR", "x": "2"})


@pytest.mark.parametrize("words", ["1_0", "1e308", "-1e300", "1e19"])
def test_text_that_is_no_number_of_this_world_is_refused(words):
    with pytest.raises(ValueError, match="number"):
        count_of_text(words, Scaling(), Scaling(gain=0.01))
