"""A search for Modbus devices: read questions to each unit id at each setting; nothing else is ever sent.

First all are asked for a register; who is silent, or refuses, then for a place of the other tables. An answer
names its unit, so a late one is never taken for another's: it is credited to the unit that sent it.
"""

import asyncio
from collections.abc import Callable, Iterator

from logger.acquire.driver import RefusedError
from logger.acquire.grouping import RegisterRequest
from logger.acquire.modbus import ModbusTcpDriver
from logger.acquire.rtu_frame import FUNCTION_OF, Question, take_reply
from logger.acquire.serial_port import SerialPort
from logger.domain.bus import ModbusRtuBus, ModbusTcpBus, Table
from logger.domain.bus_scan import FoundUnit, ScanPlan, ScanQuestion, ScanResult, question_s
from logger.domain.clock import Clock
from logger.domain.serial_ports import LineSetting
from logger.errors import DeviceError

Progress = Callable[[ScanQuestion], None]
"""Called before each question."""

GATEWAY_SILENCE = (10, 11)
"""Exceptions by which a gateway says that the unit itself did not answer (MODBUS V1.1b3, 7)."""

_RESTLESS_S = 0.03
_BETWEEN_FRAMES = 3.5
_MIN_GAP_S = 0.00175


class _Sweep:
    """The questions at one setting, table by table; who gave data of one is not asked for the next."""

    def __init__(self, plan: ScanPlan, index: int, progress: Progress) -> None:
        """`index` is that of the setting, 0 on TCP."""
        self.found: dict[int, FoundUnit] = {}
        self.setting = plan.settings[index] if plan.settings else None
        self._plan = plan
        self._index = index
        self._progress = progress

    def questions(self, table: Table) -> Iterator[ScanQuestion]:
        """Yield those that are still to be put, each when it is its turn."""
        settings, units = max(1, len(self._plan.settings)), len(self._plan.unit_ids)
        first = (self._plan.tables.index(table) * settings + self._index) * units
        for number, unit_id in enumerate(self._plan.unit_ids, start=first):
            known = self.found.get(unit_id)
            if known is None or known.exception is not None:
                question = ScanQuestion(number=number, setting=self.setting, table=table, unit_id=unit_id)
                self._progress(question)
                yield question

    def enter(self, unit_id: int, table: Table, exception: int | None, latency_s: float) -> None:
        """Note an answer; data outdo a refusal, the first of a kind stays."""
        known = self.found.get(unit_id)
        is_better = known is None or (known.exception is not None and exception is None)
        if exception not in GATEWAY_SILENCE and is_better:
            self.found[unit_id] = FoundUnit(
                unit_id=unit_id, table=table, setting=self.setting, latency_s=latency_s, exception=exception
            )


async def sweep_rtu(
    path: str, plan: ScanPlan, progress: Progress, *, every_setting: bool = False
) -> ScanResult:
    """Search a serial line; stops behind the first setting with an answer unless `every_setting`.

    Raises DeviceError where the port cannot be opened or is lost.
    """
    sweeps = [_LineSweep(path, plan, index, progress) for index in range(len(plan.settings))]
    rounds = [(table, sweep) for table in plan.tables for sweep in sweeps]
    for table, sweep in rounds:
        await sweep.ask_all(table)
        if sweep.found and not every_setting:
            for other in plan.tables[plan.tables.index(table) + 1 :]:
                await sweep.ask_all(other)
            break
    return ScanResult(
        found=tuple(unit for sweep in sweeps for unit in sweep.found.values()),
        disturbed=tuple(plan.settings[n] for n, sweep in enumerate(sweeps) if sweep.is_disturbed),
    )


async def sweep_tcp(bus: ModbusTcpBus, plan: ScanPlan, clock: Clock, progress: Progress) -> ScanResult:
    """Search behind a TCP address. Raises DeviceError where nobody listens there."""
    driver = ModbusTcpDriver(bus, (), clock)
    sweep = _Sweep(plan, 0, progress)
    try:
        for question in (question for table in plan.tables for question in sweep.questions(table)):
            await driver.ensure_ready()
            started_s, exception = clock.mono_s(), None
            try:
                await driver.read(_first_of(question))
            except RefusedError as refused:
                exception = refused.code
            except DeviceError:
                continue
            sweep.enter(question.unit_id, question.table, exception, clock.mono_s() - started_s)
    finally:
        await driver.ensure_closed()
    return ScanResult(found=tuple(sweep.found.values()))


class _LineSweep(_Sweep):
    """The questions at one setting of a serial line."""

    def __init__(self, path: str, plan: ScanPlan, index: int, progress: Progress) -> None:
        super().__init__(plan, index, progress)
        self.is_disturbed = False
        self._path = path
        self._timeout_s = plan.timeout_s
        self._line_setting = plan.settings[index]

    async def ask_all(self, table: Table) -> None:
        port = SerialPort(_bus_at(self._path, self._line_setting, self._timeout_s))
        asked: dict[int, Question] = {}
        try:
            for question in self.questions(table):
                await self._settle(port)
                asked[question.unit_id] = Question(question.unit_id, table, 0, 1)
                await self._ask(port, asked, question.unit_id)
        finally:
            port.close()

    async def _settle(self, port: SerialPort) -> None:
        gap_s = max(_MIN_GAP_S, _BETWEEN_FRAMES * port.character_s)
        try:
            await port.silence(gap_s, _RESTLESS_S)
        except DeviceError:
            if port.is_lost:
                raise
            self.is_disturbed = True
        port.discard()

    async def _ask(self, port: SerialPort, asked: dict[int, Question], unit_id: int) -> None:
        """Wait for the answer of the unit asked last; any other unit's closes nothing."""
        sent_s = asyncio.get_running_loop().time()
        port.send(asked[unit_id].frame)
        buffer = bytearray()
        deadline_s = sent_s + question_s(self._line_setting) + self._timeout_s
        while (chunk := await port.receive(deadline_s)) is not None:
            arrived_s, data = chunk
            buffer += data
            for question in asked.values():
                if (reply := take_reply(bytearray(buffer), question)) is not None:
                    self.enter(
                        question.unit_id, _TABLE_OF[reply.function], reply.exception, arrived_s - sent_s
                    )
                    if question.unit_id == unit_id:
                        return
        heard_now = any(take_reply(bytearray(buffer), question) for question in asked.values())
        self.is_disturbed = self.is_disturbed or (bool(buffer) and not heard_now)


_TABLE_OF = {function: table for table, function in FUNCTION_OF.items()}


def _bus_at(path: str, setting: LineSetting, timeout_s: float) -> ModbusRtuBus:
    return ModbusRtuBus(
        name="scan",
        path=path,
        baudrate=setting.baudrate,
        parity=setting.parity,
        stop_bits=setting.stop_bits,
        timeout_s=timeout_s,
    )


def _first_of(question: ScanQuestion) -> RegisterRequest:
    return RegisterRequest(
        unit_id=question.unit_id, table=question.table, address=0, count=1, rate_hz=1.0, bindings=()
    )
