"""A search for Modbus devices: one read question to each unit id at each setting; nothing else is ever sent.

An answer names its unit, so a late one is never taken for another's: it is credited to the unit that sent it.
"""

import asyncio
from collections.abc import Callable

from logger.acquire.driver import RefusedError
from logger.acquire.grouping import RegisterRequest
from logger.acquire.modbus import ModbusTcpDriver
from logger.acquire.rtu_frame import Question, Reply, take_reply
from logger.acquire.serial_port import SerialPort
from logger.domain.bus import ModbusRtuBus, ModbusTcpBus, Table
from logger.domain.bus_scan import FoundUnit, ScanPlan, ScanResult, question_s
from logger.domain.clock import Clock
from logger.domain.serial_ports import LineSetting
from logger.errors import DeviceError

Progress = Callable[[int, LineSetting | None, int], None]
"""Called before each question with its number from 0, its setting and its unit id."""

GATEWAY_SILENCE = (10, 11)
"""Exceptions by which a gateway says that the unit itself did not answer (MODBUS V1.1b3, 7)."""

_RESTLESS_S = 0.03
_BETWEEN_FRAMES = 3.5
_MIN_GAP_S = 0.00175


async def sweep_rtu(
    path: str, plan: ScanPlan, progress: Progress, *, every_setting: bool = False
) -> ScanResult:
    """Search a serial line; stops behind the first setting with an answer unless `every_setting`.

    Raises DeviceError where the port cannot be opened or is lost.
    """
    found: list[FoundUnit] = []
    disturbed: list[LineSetting] = []
    for index, setting in enumerate(plan.settings):
        port = SerialPort(_bus_at(path, setting, plan.timeout_s))
        try:
            sweep = _LineSweep(port, setting, plan.timeout_s)
            for number, unit_id in enumerate(plan.unit_ids):
                progress(index * len(plan.unit_ids) + number, setting, unit_id)
                await sweep.ask(unit_id)
        finally:
            port.close()
        found += sweep.found.values()
        if sweep.is_disturbed:
            disturbed.append(setting)
        if found and not every_setting:
            break
    return ScanResult(found=tuple(found), disturbed=tuple(disturbed))


async def sweep_tcp(bus: ModbusTcpBus, plan: ScanPlan, clock: Clock, progress: Progress) -> ScanResult:
    """Search behind a TCP address. Raises DeviceError where nobody listens there."""
    driver = ModbusTcpDriver(bus, (), clock)
    found = []
    try:
        for number, unit_id in enumerate(plan.unit_ids):
            progress(number, None, unit_id)
            await driver.ensure_ready()
            started_s, exception = clock.mono_s(), None
            try:
                await driver.read(_first_register(unit_id))
            except RefusedError as refused:
                exception = refused.code
                if exception in GATEWAY_SILENCE:
                    continue
            except DeviceError:
                continue
            latency_s = clock.mono_s() - started_s
            found.append(FoundUnit(unit_id=unit_id, setting=None, latency_s=latency_s, exception=exception))
    finally:
        await driver.ensure_closed()
    return ScanResult(found=tuple(found))


class _LineSweep:
    """The questions at one setting."""

    def __init__(self, port: SerialPort, setting: LineSetting, timeout_s: float) -> None:
        self.found: dict[int, FoundUnit] = {}
        self.is_disturbed = False
        self._port = port
        self._setting = setting
        self._timeout_s = timeout_s
        self._asked: list[Question] = []
        self._loop = asyncio.get_running_loop()

    async def ask(self, unit_id: int) -> None:
        gap_s = max(_MIN_GAP_S, _BETWEEN_FRAMES * self._port.character_s)
        try:
            await self._port.silence(gap_s, _RESTLESS_S)
        except DeviceError:
            if self._port.is_lost:
                raise
            self.is_disturbed = True
        self._port.discard()
        question = Question(unit_id, Table.HOLDING, 0, 1)
        self._asked.insert(0, question)
        sent_s = self._loop.time()
        self._port.send(question.frame)
        await self._listen(sent_s)

    async def _listen(self, sent_s: float) -> None:
        """Wait for the answer of the unit asked last; any other unit's closes nothing."""
        buffer = bytearray()
        deadline_s = sent_s + question_s(self._setting) + self._timeout_s
        while (chunk := await self._port.receive(deadline_s)) is not None:
            arrived_s, data = chunk
            buffer += data
            for question in self._asked:
                if (reply := take_reply(bytearray(buffer), question)) is not None:
                    self._enter(question.unit_id, reply, arrived_s - sent_s)
                    if question is self._asked[0]:
                        return
        heard_now = any(take_reply(bytearray(buffer), question) for question in self._asked)
        self.is_disturbed = self.is_disturbed or (bool(buffer) and not heard_now)

    def _enter(self, unit_id: int, reply: Reply, latency_s: float) -> None:
        if reply.exception in GATEWAY_SILENCE:
            return
        found = FoundUnit(
            unit_id=unit_id, setting=self._setting, latency_s=latency_s, exception=reply.exception
        )
        self.found.setdefault(unit_id, found)


def _bus_at(path: str, setting: LineSetting, timeout_s: float) -> ModbusRtuBus:
    return ModbusRtuBus(
        name="scan",
        path=path,
        baudrate=setting.baudrate,
        parity=setting.parity,
        stop_bits=setting.stop_bits,
        timeout_s=timeout_s,
    )


def _first_register(unit_id: int) -> RegisterRequest:
    return RegisterRequest(unit_id=unit_id, table=Table.HOLDING, address=0, count=1, rate_hz=1.0, bindings=())
