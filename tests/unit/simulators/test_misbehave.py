"""The device that misbehaves does exactly what its script says; spoken to by hand, byte for byte."""

import asyncio
import contextlib
import os
import struct
import tty

import pytest

from simulators.misbehave import NORMAL, SILENT, Behaviour, Misbehaving, crc16

READ_TWO = bytes((1, 4, 0, 1, 0, 2))
RIGHT = bytes((1, 4, 4, 0, 20, 0, 30))
REGISTERS = [10, 20, 30, 40]


class Line:
    """The client's end of the pty, non-blocking."""

    def __init__(self, path: str) -> None:
        self._end = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self._end)

    def send(self, frame: bytes) -> None:
        os.write(self._end, frame)

    async def receive(self, wanted: int) -> bytes:
        """Until `wanted` bytes are there; whatever came after a long silence otherwise."""
        data = b""
        for _ in range(200):
            with contextlib.suppress(BlockingIOError):
                data += os.read(self._end, 4096)
            if len(data) >= wanted:
                return data
            await asyncio.sleep(0.002)
        return data

    def close(self) -> None:
        os.close(self._end)


async def ask_rtu(how: Behaviour, wanted: int, request: bytes = READ_TWO) -> tuple[bytes, Misbehaving]:
    device = Misbehaving(REGISTERS, [how])
    line = Line(device.serve_pty())
    line.send(request + crc16(request))
    answer = await line.receive(wanted)
    line.close()
    await device.close()
    return answer, device


def test_the_checksum_is_that_of_the_published_example() -> None:
    # Modbus over serial line V1.02, 6.2.2: frame 02 07 has the checksum 0x1241, low byte first.
    assert crc16(bytes((2, 7))) == bytes((0x41, 0x12))


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        (NORMAL, RIGHT + crc16(RIGHT)),
        (SILENT, b""),
        (Behaviour(delay_s=0.05), RIGHT + crc16(RIGHT)),
        (Behaviour(stray=b"\x00"), b"\x00" + RIGHT + crc16(RIGHT)),
        (Behaviour(garbage=b"\xde\xad"), b"\xde\xad"),
        (Behaviour(piece_bytes=3), RIGHT + crc16(RIGHT)),
        (Behaviour(repeat=2), 2 * (RIGHT + crc16(RIGHT))),
        (Behaviour(bad_crc=True), (RIGHT + crc16(RIGHT))[:-1] + bytes((crc16(RIGHT)[1] ^ 0xFF,))),
        (Behaviour(unit_id=9), b"\x09" + RIGHT[1:] + crc16(b"\x09" + RIGHT[1:])),
        (Behaviour(exception_code=6), bytes((1, 0x84, 6)) + crc16(bytes((1, 0x84, 6)))),
        (Behaviour(extra_registers=-1), bytes((1, 4, 2, 0, 20)) + crc16(bytes((1, 4, 2, 0, 20)))),
    ],
)
async def test_each_behaviour_on_the_serial_line(how: Behaviour, expected: bytes) -> None:
    answer, device = await ask_rtu(how, len(expected) or 1)
    assert answer == expected
    assert device.requests == [READ_TWO]
    assert device.function_codes == [4]


async def test_more_registers_than_asked_for_are_a_sound_frame() -> None:
    answer, _device = await ask_rtu(Behaviour(extra_registers=1), 11)
    assert answer[2] == 6
    assert crc16(answer[:-2]) == answer[-2:]


async def test_writes_are_recorded_and_refused() -> None:
    write = bytes((1, 16, 0, 0, 0, 1, 2, 0, 7))
    answer, device = await ask_rtu(NORMAL, 5, write)
    assert answer[:3] == bytes((1, 0x90, 1))
    assert device.function_codes == [16]


async def test_a_request_to_another_unit_takes_nothing_off_the_script() -> None:
    other = bytes((7,)) + READ_TWO[1:]
    device = Misbehaving(REGISTERS, [Behaviour(exception_code=6)])
    line = Line(device.serve_pty())
    line.send(other + crc16(other) + READ_TWO + crc16(READ_TWO))
    answer = await line.receive(5)
    line.close()
    await device.close()
    assert answer[:3] == bytes((1, 0x84, 6))
    assert device.requests == [other, READ_TWO]


async def test_a_late_answer_comes_after_the_answer_to_the_next_request() -> None:
    device = Misbehaving(REGISTERS, [Behaviour(delay_s=0.1)])
    line = Line(device.serve_pty())
    second = bytes((1, 4, 0, 3, 0, 1))
    line.send(READ_TWO + crc16(READ_TWO) + second + crc16(second))
    answer = await line.receive(7 + 9)
    line.close()
    await device.close()
    prompt = bytes((1, 4, 2, 0, 40))
    assert answer == prompt + crc16(prompt) + RIGHT + crc16(RIGHT)


async def test_tcp_answers_with_the_transaction_it_is_told_to_and_hangs_up() -> None:
    device = Misbehaving(REGISTERS, [NORMAL, Behaviour(transaction_offset=1), Behaviour(hang_up=True)])
    reader, writer = await asyncio.open_connection("127.0.0.1", await device.serve_tcp())
    for number in (5, 6, 7):
        writer.write(struct.pack(">HHH", number, 0, len(READ_TWO)) + READ_TWO)
    received = await reader.read(-1)
    writer.close()
    await writer.wait_closed()
    await device.close()
    assert received == b"".join(struct.pack(">HHH", number, 0, 7) + RIGHT for number in (5, 7, 7))


async def test_a_half_open_link_takes_requests_and_never_answers() -> None:
    device = Misbehaving(REGISTERS, then=SILENT)
    _reader, writer = await asyncio.open_connection("127.0.0.1", await device.serve_tcp())
    for number in range(3):
        writer.write(struct.pack(">HHH", number, 0, len(READ_TWO)) + READ_TWO)
    while len(device.requests) < 3:
        await asyncio.sleep(0.002)
    writer.close()
    await writer.wait_closed()
    await device.close()
    assert device.function_codes == [4, 4, 4]
