"""Raw registers, bits and bytes for a person to look at: the drivers read them, nothing is scaled."""

import asyncio

import serial

from logger.acquire.driver import Driver
from logger.acquire.grouping import RegisterRequest
from logger.acquire.registry import driver_of
from logger.acquire.serial_port import character_format
from logger.domain.bus import Binding, Bus, ModbusPoint, SerialLineBus, Table
from logger.domain.channel import Channel, DataType, Quantity, Scaling
from logger.domain.clock import Clock
from logger.errors import DeviceError

_READ_S = 0.05


class Probe:
    """One block of registers or bits, read again and again; close it."""

    def __init__(self, bus: Bus, unit_id: int, block: tuple[Table, int, int], clock: Clock) -> None:
        """`block` is a table, the first address from 0, and how many."""
        table, address, count = block
        data_type = DataType.COUNT if table.holds_bits else DataType.UINT16
        channel = Channel(quantity=Quantity.PRESSURE, scaling=Scaling(data_type=data_type))
        self._request = RegisterRequest(
            unit_id=unit_id,
            table=table,
            address=address,
            count=count,
            rate_hz=1.0,
            bindings=tuple(
                Binding(
                    channel=channel,
                    bus=bus.name,
                    point=ModbusPoint(unit_id=unit_id, table=table, address=address + number),
                )
                for number in range(count)
            ),
        )
        self._driver: Driver = driver_of(bus, (self._request,), clock)

    async def read(self) -> tuple[list[int], float]:
        """Return the registers or bits, and how long the answer took. Raises DeviceError."""
        await self._driver.ensure_ready()
        answer = await self._driver.read(self._request)
        return [reading.raw for reading in answer.readings], answer.received_s - answer.sent_s

    async def close(self) -> None:
        await self._driver.ensure_closed()


async def bytes_from(bus: SerialLineBus, seconds: float) -> bytes:
    """Return all that a text device sends in so many seconds, after its request where the bus has one.

    Raises DeviceError.
    """
    return await asyncio.to_thread(_bytes_from, bus, seconds)


def _bytes_from(bus: SerialLineBus, seconds: float) -> bytes:
    received = b""
    try:
        with serial.serial_for_url(
            bus.path,
            baudrate=bus.baudrate,
            **character_format(bus.path, bus.parity, bus.data_bits),
            stopbits=bus.stop_bits,
            timeout=_READ_S,
            exclusive=True,
        ) as port:
            if bus.poll_request is not None:
                port.write(bus.poll_request.encode(bus.encoding))
            for _ in range(round(seconds / _READ_S)):
                received += port.read(max(1, port.in_waiting))
    except (OSError, ValueError) as error:
        raise DeviceError(f"{bus.path}: {error}") from error
    return received
