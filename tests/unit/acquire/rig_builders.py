"""Small installations, and a clock that moves only when a test says so."""

import asyncio
import heapq
import itertools
from datetime import UTC, datetime, timedelta

from logger.domain.bus import Binding, Bus, Installation, LineField, ModbusPoint, ReplayField, Table
from logger.domain.channel import Channel, DataType, Quantity, Scaling, WordOrder
from logger.domain.rig import Rig


def channel(
    quantity: Quantity = Quantity.PRESSURE,
    data_type: DataType = DataType.UINT16,
    rate_hz: float = 10.0,
    *,
    gain: float = 1.0,
    offset: float = 0.0,
    word_order: WordOrder = WordOrder.ABCD,
) -> Channel:
    scaling = Scaling(data_type=data_type, word_order=word_order, gain=gain, offset=offset)
    return Channel(quantity=quantity, scaling=scaling, rate_hz=rate_hz)


def register(
    quantity: Quantity,
    address: int,
    data_type: DataType = DataType.UINT16,
    rate_hz: float = 10.0,
    *,
    unit_id: int = 1,
    table: Table = Table.HOLDING,
    bus: str = "field",
) -> Binding:
    point = ModbusPoint(unit_id=unit_id, table=table, address=address)
    return Binding(channel=channel(quantity, data_type, rate_hz), bus=bus, point=point)


def bit(quantity: Quantity, address: int, table: Table = Table.COIL, *, unit_id: int = 1) -> Binding:
    return register(quantity, address, DataType.COUNT, unit_id=unit_id, table=table)


def text(quantity: Quantity, group: str, gain: float = 0.01, rate_hz: float = 10.0) -> Binding:
    return Binding(
        channel=channel(quantity, DataType.COUNT, rate_hz, gain=gain),
        bus="field",
        point=LineField(group=group),
    )


def column(quantity: Quantity, name: str, gain: float = 0.01) -> Binding:
    return Binding(
        channel=channel(quantity, DataType.COUNT, gain=gain), bus="field", point=ReplayField(column=name)
    )


def installation(bus: Bus, *bindings: Binding) -> Installation:
    rig = Rig(name="Quarry trench", channels=tuple(binding.channel for binding in bindings))
    return Installation(rig=rig, buses=(bus,), bindings=bindings)


class ManualClock:
    """Stands still until `advance` moves it, waking sleepers in the order in which they are due."""

    time_scale = 1.0

    def __init__(self, now_s: float = 0.0) -> None:
        self.now_s = now_s
        self._sleepers: list[tuple[float, int, asyncio.Event]] = []
        self._order = itertools.count()

    def mono_s(self) -> float:
        return self.now_s

    def utc(self) -> datetime:
        return datetime(2031, 5, 6, tzinfo=UTC) + timedelta(seconds=self.now_s)

    async def sleep(self, seconds: float) -> None:
        if seconds <= 0:
            await asyncio.sleep(0)
            return
        woken = asyncio.Event()
        heapq.heappush(self._sleepers, (self.now_s + seconds, next(self._order), woken))
        await woken.wait()

    async def advance(self, seconds: float) -> None:
        end_s = self.now_s + seconds
        await self._settle()
        while self._sleepers and self._sleepers[0][0] <= end_s + 1e-9:
            due_s, _, woken = heapq.heappop(self._sleepers)
            self.now_s = max(self.now_s, due_s)
            woken.set()
            await self._settle()
        self.now_s = end_s

    async def _settle(self) -> None:
        for _ in range(50):
            await asyncio.sleep(0)


class RealClock:
    """The event loop's own time, so that a test over a real device needs no other."""

    def __init__(self, time_scale: float = 1.0) -> None:
        self.time_scale = time_scale
        self._loop = asyncio.get_running_loop()

    def mono_s(self) -> float:
        return self._loop.time() * self.time_scale

    def utc(self) -> datetime:
        return datetime(2031, 5, 6, tzinfo=UTC)

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(seconds / self.time_scale)
