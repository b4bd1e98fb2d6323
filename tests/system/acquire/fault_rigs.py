"""Devices on four kinds of bus that fail once in a named way and are well before and after."""

import asyncio
import os
import tty
from dataclasses import dataclass

from logger.domain.bus import Binding, Bus, Checksum, ModbusRtuBus, ModbusTcpBus, SerialLineBus
from logger.domain.channel import DataType, Quantity
from simulators.misbehave import NORMAL, SILENT, Behaviour, Misbehaving
from tests.unit.acquire.rig_builders import register, text

RATE_HZ = 20.0
TIMEOUT_S = 0.25
LATE_S = 0.35
"""After the time-out and within the quiet time that follows it on every bus."""
RIGHT_WORDS = [0x4193, 0x3333]
RIGHT_RAW = 0x4193_3333
"""18.4 as float32."""
RIGHT_COUNT = 1840
WELL = 4
"""Sound answers in front of the fault: the first may be a probe's."""


def line_of(payload: bytes) -> bytes:
    """The line of a text device with the exclusive or of its bytes, worked out here by itself."""
    check = 0
    for byte in payload:
        check ^= byte
    return payload + b"*%02x" % check + b"\r\n"


SOUND = line_of(b"P1=18.40")


@dataclass(frozen=True)
class Fault:
    """One fault in each bus's own form; None where the bus cannot have it. `lost` samples at most."""

    tcp: Behaviour | None
    rtu: Behaviour | None
    text: bytes | None
    lost: int = 1
    delay_s: float = 0.0


def of_modbus(how: Behaviour, text_line: bytes | None, lost: int = 1, delay_s: float = 0.0) -> Fault:
    return Fault(how, how, text_line, lost, delay_s)


FAULTS: dict[str, Fault] = {
    "silence": of_modbus(SILENT, b""),
    "CRC error": Fault(None, Behaviour(bad_crc=True), b"P1=18.40*00\r\n"),
    "wrong unit": of_modbus(Behaviour(unit_id=2), line_of(b"P2=99.00")),
    "short reply": of_modbus(Behaviour(extra_registers=-1), b"P1=18\r\n"),
    "long reply": of_modbus(Behaviour(extra_registers=2), line_of(b"P1=18.40 P2=3.00")),
    "late reply": of_modbus(Behaviour(delay_s=LATE_S), SOUND, lost=2, delay_s=LATE_S),
    "exception reply": of_modbus(Behaviour(exception_code=4), b"ERR 4\r\n"),
    "garbage between frames": Fault(
        Behaviour(stray=b"\xde\xad\xbe\xef"),
        Behaviour(stray=b"\xde\xad\xbe\xef"),
        b"\xde\xad\xbe\xef\r\n" + SOUND,
    ),
    "one stray byte": Fault(Behaviour(stray=b"\x00"), Behaviour(stray=b"\x00"), b"\x00" + SOUND),
    "noise bytes": of_modbus(Behaviour(garbage=bytes(range(7, 250, 3))), bytes(range(14, 250, 3)) + b"\n"),
    "reply in pieces": of_modbus(Behaviour(piece_bytes=1, piece_pause_s=0.002), SOUND, lost=0),
    "reply twice": of_modbus(Behaviour(repeat=2), SOUND + SOUND, lost=1),
    "transaction number of another": Fault(Behaviour(transaction_offset=7), None, None),
}


class Device:
    """A device on one kind of bus; `is_over` tells that the fault has been sent."""

    bus: Bus
    binding: Binding
    right: int

    def is_over(self) -> bool:
        raise NotImplementedError

    async def close(self) -> None:
        raise NotImplementedError


class ModbusDevice(Device):
    right = RIGHT_RAW
    binding = register(Quantity.PRESSURE, 0, DataType.FLOAT32, RATE_HZ)

    def __init__(self, how: Behaviour | None) -> None:
        script = [NORMAL] * WELL + ([how] if how else [])
        self._enough = len(script)
        self.device = Misbehaving([*RIGHT_WORDS, *range(200)], script)

    async def serve(self, kind: str, port: int = 0) -> "ModbusDevice":
        if kind == "tcp":
            at = await self.device.serve_tcp(port)
            self.bus = ModbusTcpBus(name="field", host="127.0.0.1", port=at, timeout_s=TIMEOUT_S)
        else:
            self.bus = ModbusRtuBus(
                name="field",
                path=self.device.serve_pty(),
                baudrate=115200,
                timeout_s=TIMEOUT_S,
                worst_latency_s=0.1,
            )
        return self

    def is_over(self) -> bool:
        return len(self.device.requests) > self._enough

    async def close(self) -> None:
        await self.device.close()


class TextDevice(Device):
    """Streams, or answers a question, with `SOUND` but for the one fault; an empty fault is silence."""

    right = RIGHT_COUNT
    binding = text(Quantity.PRESSURE, "bar", rate_hz=RATE_HZ)

    def __init__(self, kind: str, fault: bytes | None, delay_s: float = 0.0) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        self._fault, self._delay_s = fault, delay_s
        self._sent = 0
        is_polled = kind == "polled text"
        self.bus = SerialLineBus(
            name="field",
            path=os.ttyname(self._slave),
            pattern=r"P1=(?P<bar>[0-9.]+)",
            checksum=Checksum.XOR,
            checksum_mark="*",
            poll_request="?" if is_polled else None,
            timeout_s=TIMEOUT_S,
        )
        loop = asyncio.get_running_loop()
        self._task: asyncio.Task[None] | None = None
        if is_polled:
            loop.add_reader(self._master, self._asked)
        else:
            self._task = loop.create_task(self._stream())

    def is_over(self) -> bool:
        return self._sent > WELL + (self._fault is not None)

    async def close(self) -> None:
        if self._master < 0:
            return
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)
        asyncio.get_running_loop().remove_reader(self._master)
        os.close(self._master)
        os.close(self._slave)
        self._master = -1

    def _next(self) -> tuple[bytes, float]:
        self._sent += 1
        if self._sent == WELL + 1 and self._fault is not None:
            return self._fault, self._delay_s
        return SOUND, 0.0

    def _asked(self) -> None:
        os.read(self._master, 100)
        data, delay_s = self._next()
        asyncio.get_running_loop().call_later(delay_s, self._send, data)

    async def _stream(self) -> None:
        while True:
            data, delay_s = self._next()
            await asyncio.sleep(delay_s if data else 1.2 * TIMEOUT_S)
            self._send(data)
            await asyncio.sleep(1 / RATE_HZ)

    def _send(self, data: bytes) -> None:
        if self._master >= 0 and data:
            os.write(self._master, data)


KINDS = ("tcp", "rtu", "streamed text", "polled text")


def form_of(fault: Fault, kind: str) -> Behaviour | bytes | None:
    return {"tcp": fault.tcp, "rtu": fault.rtu}.get(kind, fault.text)  # type: ignore[arg-type]


async def device_of(kind: str, fault: Fault | None, port: int = 0) -> Device:
    form = None if fault is None else form_of(fault, kind)
    if kind in ("tcp", "rtu"):
        assert not isinstance(form, bytes)
        return await ModbusDevice(form).serve(kind, port)
    assert not isinstance(form, Behaviour)
    return TextDevice(kind, form, fault.delay_s if fault else 0.0)
