"""Raw registers and bits for a person to look at: the drivers read them, nothing is scaled."""

from logger.acquire.driver import Driver
from logger.acquire.grouping import RegisterRequest
from logger.acquire.registry import driver_of
from logger.domain.bus import Binding, Bus, ModbusPoint, Table
from logger.domain.channel import Channel, DataType, Quantity, Scaling
from logger.domain.clock import Clock


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
