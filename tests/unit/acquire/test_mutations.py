"""Frames and lines that were damaged at random: a value, a refusal or nothing comes of them."""

import random
from collections.abc import Iterator

from logger.acquire.decode import readings_of_fields, readings_of_payload
from logger.acquire.grouping import FieldRequest, RegisterRequest, requests_of
from logger.acquire.line_frame import text_in
from logger.acquire.modbus import _is_sound
from logger.acquire.rtu_frame import Question, take_reply
from logger.acquire.rtu_ledger import Ledger, shape_of
from logger.acquire.serial_line import _compiled
from logger.domain.bus import Checksum, ModbusRtuBus, SerialLineBus, Table
from logger.domain.channel import DataType, Quantity
from simulators.misbehave import crc16
from tests.conftest import FULL_SIZE
from tests.unit.acquire.rig_builders import register, text

COUNT = 1_000_000 if FULL_SIZE else 10_000


def framed(body: bytes) -> bytes:
    return body + crc16(body)


SEEDS = (
    framed(b"\x01\x03\x04\x41\x93\x33\x33"),
    framed(b"\x01\x04\x08\x00\x01\x02\x03\x04\x05\x06\x07"),
    framed(b"\x01\x01\x01\x05"),
    framed(b"\x01\x83\x02"),
    framed(b"\x02\x03\x02\x00\x07"),
    b"\x00\x01\x00\x00\x00\x07\x01\x03\x04\x41\x93\x33\x33",
    b"\x00\x02\x00\x00\x00\x03\x01\x83\x02",
)


def mutants(seeds: tuple[bytes, ...], seed: int) -> Iterator[bytes]:
    """Flipped, lost, added, doubled, cut and joined bytes, several at a time."""
    draw = random.Random(seed)
    for _ in range(COUNT):
        data = bytearray(draw.choice(seeds))
        for _ in range(draw.randrange(1, 5)):
            place = draw.randrange(len(data) + 1)
            match draw.randrange(6):
                case 0 if place < len(data):
                    data[place] ^= 1 << draw.randrange(8)
                case 1:
                    del data[place : place + draw.randrange(1, 4)]
                case 2:
                    data[place:place] = draw.randbytes(draw.randrange(1, 4))
                case 3:
                    data += data[place:]
                case 4:
                    del data[place:]
                case _:
                    data += draw.choice(seeds)
        yield bytes(data)


def test_a_mutated_frame_never_hangs_crashes_or_gives_a_wrong_length() -> None:
    asked = Question(1, Table.HOLDING, 0, 2)
    binding = register(Quantity.PRESSURE, 0, DataType.FLOAT32)
    (request,) = requests_of(ModbusRtuBus(name="field", path="p"), [binding])
    assert isinstance(request, RegisterRequest)
    taken = 0
    for data in mutants(SEEDS, seed=1):
        ledger = Ledger([asked], 1e9)
        ledger.asked(asked, 0.0)
        buffer = bytearray(data)
        while (reply := take_reply(buffer, asked)) is not None:
            if reply.exception is not None:
                ledger.refused(asked, reply.function)
                continue
            ledger.answered((reply.function, len(reply.payload)))
            if (reply.function, len(reply.payload)) == shape_of(asked):
                (reading,) = readings_of_payload(request, reply.payload)
                taken += 1
                assert framed(b"\x01\x03\x04" + reply.payload) in data
                assert 0 <= reading.raw < 1 << 32
        assert len(buffer) <= len(data)
    assert taken > COUNT / 100, "some survive: they are the sound frames behind the damage"


def test_a_mutated_tcp_frame_is_sound_only_if_its_header_is() -> None:
    for data in mutants(SEEDS, seed=2):
        if _is_sound(data):
            length = int.from_bytes(data[4:6], "big")
            assert data[2:4] == b"\x00\x00"
            assert length == 3 + data[8] or (length == 3 and data[7] & 0x80)


def test_a_mutated_line_is_a_number_or_refused() -> None:
    bus = SerialLineBus(
        name="field",
        path="p",
        pattern=r"P=\s*(?P<bar>\S*)( T=\s*(?P<degC>\S*))?",
        checksum=Checksum.XOR,
        checksum_mark="*",
        encoding="utf-8",
    )
    fields = (text(Quantity.PRESSURE, "bar"), text(Quantity.PLATE_TEMPERATURE, "degC"))
    request = FieldRequest(rate_hz=None, bindings=fields)
    pattern = _compiled(bus, [request])
    seeds = (b"P= 18.40 T=214.9*", b"P=nan T=*", b"P=1e308 T=-0*", b"P=\xc2\xb5*", b"P=1_0*")
    numbers = 0
    for data in mutants(seeds, seed=3):
        check = 0
        for byte in data.rpartition(b"*")[0]:
            check ^= byte
        line = data + b"%02X" % check if len(data) % 2 else data
        try:
            match = pattern.fullmatch(text_in(bus, line))
            if match is not None:
                numbers += len(readings_of_fields(request.bindings, match.groupdict()))
        except ValueError:
            continue
    assert numbers > COUNT / 100
