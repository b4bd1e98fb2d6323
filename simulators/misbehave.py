"""A Modbus device that can be told, request by request, to misbehave: on a pty (RTU) or on TCP.

Framing is written out here by hand, so that damaged frames can be sent and nothing is shared with the library
that the recorder uses.

    device = Misbehaving([10, 20, 30, 40], [NORMAL, SILENT, Behaviour(stray=bytes(1), delay_s=0.3)])
    path = device.serve_pty()          # or: port = await device.serve_tcp()
    ...
    assert device.function_codes == [4, 4, 4]
    await device.close()

Serve one transport per device. The script is worked off one behaviour per request; then `then` holds.
"""

import asyncio
import os
import struct
import tty
from collections.abc import Callable, Sequence
from dataclasses import dataclass

_READS_BITS = (1, 2)
_READS_REGISTERS = (3, 4)
_WRITES_MANY = (15, 16)
_ILLEGAL_FUNCTION, _ILLEGAL_ADDRESS = 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Behaviour:
    """How one request is answered; faults combine. The default is the right answer at once."""

    silent: bool = False
    delay_s: float = 0.0
    """The answer comes this late; requests that arrive meanwhile are answered on their own."""
    extra_registers: int = 0
    """So many registers more than asked for, fewer when negative; the frame itself is sound."""
    unit_id: int | None = None
    """Answer in the name of this unit."""
    transaction_offset: int = 0
    """TCP alone: added to the transaction id."""
    bad_crc: bool = False
    """RTU alone: the last byte of the frame is damaged."""
    exception_code: int | None = None
    stray: bytes = b""
    """Bytes in front of the frame."""
    garbage: bytes | None = None
    """These bytes instead of a frame."""
    repeat: int = 1
    """Send the whole answer so many times."""
    piece_bytes: int = 0
    """Send in pieces of this size, `piece_pause_s` apart; 0 sends it whole."""
    piece_pause_s: float = 0.01
    hang_up: bool = False
    """TCP alone: close the connection after the answer, or instead of it when also silent."""


NORMAL = Behaviour()
SILENT = Behaviour(silent=True)
"""For every request: a half-open link, connected and never answering."""


class Misbehaving:
    """A device with unit id `unit_id` and `registers` from address 0, read by function codes 1 to 4.

    It refuses functions that are not among `functions`, or is silent where `is_silent_to_others` says so.
    `requests` holds every request as unit id and PDU, without TCP header or checksum. Requests to another
    unit are recorded and not answered, and take nothing off the script.
    """

    def __init__(
        self,
        registers: list[int],
        script: Sequence[Behaviour] = (),
        *,
        then: Behaviour = NORMAL,
        unit_id: int = 1,
        functions: Sequence[int] = _READS_BITS + _READS_REGISTERS,
        is_silent_to_others: bool = False,
    ) -> None:
        self.registers = registers
        self.requests: list[bytes] = []
        self._script = list(script)
        self._then = then
        self._unit_id = unit_id
        self._functions = functions
        self._is_silent_to_others = is_silent_to_others
        self._tasks: set[asyncio.Task[None]] = set()
        self._server: asyncio.Server | None = None
        self._writers: set[asyncio.StreamWriter] = set()
        self._pty: tuple[int, int] | None = None
        self._received = b""

    @property
    def function_codes(self) -> list[int]:
        """Of all requests so far, in order."""
        return [request[1] for request in self.requests]

    async def serve_tcp(self, port: int = 0) -> int:
        """Listen on 127.0.0.1; returns the port."""
        self._server = await asyncio.start_server(self._connection, "127.0.0.1", port)
        return int(self._server.sockets[0].getsockname()[1])

    def serve_pty(self) -> str:
        """Open a raw pty and serve RTU on it; returns the path that a client opens. Needs a running loop."""
        master, slave = os.openpty()
        tty.setraw(master)
        tty.setraw(slave)
        self._pty = (master, slave)
        asyncio.get_running_loop().add_reader(master, self._pty_readable)
        return os.ttyname(slave)

    async def close(self) -> None:
        """Stop answering and free port and pty."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self._server is not None:
            self._server.close()
            for writer in self._writers:
                writer.close()
            await self._server.wait_closed()
            await asyncio.gather(*(w.wait_closed() for w in self._writers), return_exceptions=True)
        if self._pty is not None:
            asyncio.get_running_loop().remove_reader(self._pty[0])
            for end in self._pty:
                os.close(end)
            self._pty = None

    async def _connection(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.add(writer)
        try:
            while True:
                header = await reader.readexactly(6)
                transaction, _protocol, length = struct.unpack(">HHH", header)
                request = await reader.readexactly(length)

                def framed(answer: bytes, how: Behaviour, transaction: int = transaction) -> bytes:
                    number = (transaction + how.transaction_offset) & 0xFFFF
                    return struct.pack(">HHH", number, 0, len(answer)) + answer

                self._take(request, framed, writer.write, writer.close)
        except (asyncio.IncompleteReadError, ConnectionError):
            writer.close()

    def _pty_readable(self) -> None:
        if self._pty is None:
            return
        master = self._pty[0]
        self._received += os.read(master, 4096)
        while len(self._received) >= 8:
            length = _rtu_request_bytes(self._received)
            if len(self._received) < length:
                return
            frame = self._received[:length]
            if crc16(frame[:-2]) != frame[-2:]:
                self._received = self._received[1:]
                continue
            self._received = self._received[length:]
            self._take(frame[:-2], _rtu_framed, lambda data: _write_all(master, data), lambda: None)

    def _take(
        self,
        request: bytes,
        framed: Callable[[bytes, Behaviour], bytes],
        send: Callable[[bytes], None],
        hang_up: Callable[[], None],
    ) -> None:
        self.requests.append(request)
        is_silent = self._is_silent_to_others and request[1] not in self._functions
        if request[0] != self._unit_id or is_silent:
            return
        how = self._script.pop(0) if self._script else self._then
        data = b""
        if not how.silent:
            frame = framed(self._answer(request, how), how) if how.garbage is None else how.garbage
            data = (how.stray + frame) * how.repeat
        if not how.delay_s and not how.piece_bytes:
            send(data)
            if how.hang_up:
                hang_up()
            return
        task = asyncio.get_running_loop().create_task(_send_slowly(data, how, send, hang_up))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def _answer(self, request: bytes, how: Behaviour) -> bytes:
        unit_id = self._unit_id if how.unit_id is None else how.unit_id
        function = request[1]
        if how.exception_code is not None:
            return bytes((unit_id, function | 0x80, how.exception_code))
        if function not in self._functions or len(request) != 6:
            return bytes((unit_id, function | 0x80, _ILLEGAL_FUNCTION))
        address, count = struct.unpack(">HH", request[2:6])
        if address + count > len(self.registers):
            return bytes((unit_id, function | 0x80, _ILLEGAL_ADDRESS))
        values = self.registers[address : address + count]
        values = (values + [0xEEEE] * max(0, how.extra_registers))[: max(0, count + how.extra_registers)]
        body = (
            struct.pack(f">{len(values)}H", *values) if function in _READS_REGISTERS else _packed_bits(values)
        )
        return bytes((unit_id, function, len(body))) + body


def crc16(frame: bytes) -> bytes:
    """Modbus checksum as sent: low byte first (Modbus over serial line V1.02, 6.2.2)."""
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return struct.pack("<H", crc)


def _rtu_framed(answer: bytes, how: Behaviour) -> bytes:
    frame = answer + crc16(answer)
    return frame[:-1] + bytes((frame[-1] ^ 0xFF,)) if how.bad_crc else frame


def _rtu_request_bytes(received: bytes) -> int:
    """Length of the request at the front: eight bytes, but for the writes of many values."""
    return 9 + received[6] if received[1] in _WRITES_MANY else 8


def _packed_bits(values: list[int]) -> bytes:
    packed = bytearray((len(values) + 7) // 8)
    for position, value in enumerate(values):
        packed[position // 8] |= (value & 1) << position % 8
    return bytes(packed)


def _write_all(descriptor: int, data: bytes) -> None:
    if data:
        os.write(descriptor, data)


async def _send_slowly(
    data: bytes, how: Behaviour, send: Callable[[bytes], None], hang_up: Callable[[], None]
) -> None:
    await asyncio.sleep(how.delay_s)
    size = how.piece_bytes or len(data) or 1
    for start in range(0, len(data), size):
        if start:
            await asyncio.sleep(how.piece_pause_s)
        send(data[start : start + size])
    if how.hang_up:
        hang_up()
