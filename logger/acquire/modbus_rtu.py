"""Modbus RTU over a serial port: an own master for function codes 1 to 4.

Own, because the Modbus library cannot be made safe on a serial line: it does not tell when bytes arrived,
takes a late answer for the next one, does not look at its length and drops a frame behind a stray byte. Here:

- what waits before a question is thrown away, and what arrives before the question has left is no answer;
- an answer has the unit, function, byte count and CRC of its question, or it is none; bytes in front of it
  and whole frames of others are passed over;
- after a time-out or a cancellation the line is quiet for twice the declared worst latency, then the unit
  has to answer a question whose answer has a length of its own (`rtu_probe`) before it is believed again: so
  an answer later than the quiet time is not believed either.
"""

import asyncio
from collections import defaultdict
from collections.abc import Sequence

from logger.acquire.decode import readings_of_payload
from logger.acquire.driver import Answer
from logger.acquire.grouping import RegisterRequest, Request
from logger.acquire.rtu_frame import OVERHEAD_BYTES, QUESTION_BYTES, Question, exception_text, find_answer
from logger.acquire.rtu_probe import probe_for
from logger.acquire.serial_port import SerialPort
from logger.domain.bus import ModbusRtuBus
from logger.domain.clock import Clock
from logger.errors import DeviceError

_FRAME_GAP_CHARACTERS = 3.5
_MIN_FRAME_GAP_S = 0.00175  # above 19200 baud; MODBUS over Serial Line V1.02, 2.5.1.1 (from memory)
_GARBLED_S = 0.05  # Longer than any pause within an answer, a USB adapter's 16 ms included.
_MAX_SILENCE_WAIT_S = 2.0
_FORGOTTEN_AFTER = 10  # times (time-out plus quiet time)


class _RefusedError(DeviceError):
    """The device answered with an exception."""


class _GarbledError(DeviceError):
    """Enough bytes came to be the answer, but they are none."""


class ModbusRtuDriver:
    """One line with one or more units, which may each be out of step."""

    def __init__(self, bus: ModbusRtuBus, requests: Sequence[Request], clock: Clock) -> None:
        """Take all requests that will ever be read, since a probe must differ from each of them."""
        self._bus = bus
        self._clock = clock
        questions: dict[int, list[Question]] = defaultdict(list)
        for request in requests:
            if isinstance(request, RegisterRequest):
                questions[request.unit_id].append(_question_of(request))
        self._probe_of = {unit_id: probe_for(asked) for unit_id, asked in questions.items()}
        self._port: SerialPort | None = None
        self._quiet_s = 2.0 * bus.worst_latency_s
        self._must_be_quiet = True
        self._out_of_step: set[int] = set()
        self._proved_by_refusal: set[int] = set()
        self._unanswered_since_s: dict[int, float] = {}

    async def ensure_ready(self) -> None:
        if self._port is not None and not self._port.is_lost:
            return
        await self.ensure_closed()
        self._port = SerialPort(self._bus)
        # Whoever had the port before may have left a question unanswered.
        self._must_be_quiet = True
        self._out_of_step = set(self._probe_of)

    async def ensure_closed(self) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None

    async def read(self, request: Request) -> Answer:
        """Ask once. A unit that is out of step is first brought back into step, or DeviceError is raised."""
        if not isinstance(request, RegisterRequest):
            raise DeviceError(f"{self._bus.name}: cannot read a text field")
        question = _question_of(request)
        unit_id = question.unit_id
        if unit_id in self._out_of_step:
            await self._bring_into_step(unit_id)
        loop = asyncio.get_running_loop()
        try:
            payload, sent_s, received_s = await self._exchange(question)
        except _RefusedError:
            if unit_id in self._proved_by_refusal:
                self._out_of_step.add(unit_id)  # It may be a late answer to the probe.
            raise
        except BaseException:
            self._unanswered_since_s[unit_id] = loop.time()
            raise
        return Answer(readings=readings_of_payload(request, payload), sent_s=sent_s, received_s=received_s)

    async def _bring_into_step(self, unit_id: int) -> None:
        probe = self._probe_of[unit_id]
        if not probe.is_mapped and self._has_forgotten(unit_id):
            self._out_of_step.discard(unit_id)
            return
        try:
            await self._exchange(probe.question)
        except _RefusedError:
            self._proved_by_refusal.add(unit_id)
        else:
            self._proved_by_refusal.discard(unit_id)
        self._out_of_step.discard(unit_id)

    def _has_forgotten(self, unit_id: int) -> bool:
        """Tell whether the last unanswered question is so old that no answer will come.

        Only for a unit that ignores reads beyond its map, against the standard, and has no other probe.
        """
        since_s = self._unanswered_since_s.get(unit_id, float("-inf"))
        age_s = asyncio.get_running_loop().time() - since_s
        return age_s > _FORGOTTEN_AFTER * (self._bus.timeout_s + self._quiet_s)

    async def _exchange(self, question: Question) -> tuple[bytes, float, float]:
        """Send one question and return the data bytes of its answer, with the clock before and after."""
        port = self._port
        if port is None:
            raise DeviceError(f"{self._bus.name}: not open")
        await self._settle(port)
        try:
            port.discard()
            sent_s = self._clock.mono_s()
            port.send(question.frame)
            payload = await self._answer(port, question)
            return payload, sent_s, self._clock.mono_s()
        except _RefusedError:
            raise
        except _GarbledError:
            self._out_of_step.add(question.unit_id)
            raise
        except BaseException:
            self._out_of_step.add(question.unit_id)
            self._must_be_quiet = True
            port.last_byte_s = asyncio.get_running_loop().time()
            raise

    async def _settle(self, port: SerialPort) -> None:
        """Keep the pause between frames, or the long one after a question that was not answered."""
        if self._must_be_quiet:
            await port.silence(self._quiet_s, _MAX_SILENCE_WAIT_S + self._quiet_s)
            self._must_be_quiet = False
        gap_s = max(_MIN_FRAME_GAP_S, _FRAME_GAP_CHARACTERS * port.character_s) + self._bus.pause_s
        await port.silence(gap_s, _MAX_SILENCE_WAIT_S + gap_s)

    async def _answer(self, port: SerialPort, question: Question) -> bytes:
        loop = asyncio.get_running_loop()
        left_s = loop.time() + QUESTION_BYTES * port.wire_character_s
        deadline_s = left_s + self._bus.timeout_s
        buffer = bytearray()
        enough = OVERHEAD_BYTES + question.answer_payload_bytes
        while True:
            garbled_s = loop.time() + _GARBLED_S if len(buffer) >= enough else deadline_s
            chunk = await port.receive(min(deadline_s, garbled_s))
            if chunk is None:
                break
            arrived_s, data = chunk
            if arrived_s < left_s:
                continue
            buffer += data
            found = find_answer(buffer, question)
            if found is not None and found.exception is not None:
                raise _RefusedError(f"{self._place(question)}: {exception_text(found.exception)}")
            if found is not None:
                return found.payload
        if len(buffer) >= enough:
            raise _GarbledError(f"{self._place(question)}: the answer is damaged ({len(buffer)} bytes)")
        raise DeviceError(f"{self._place(question)}: no answer within {self._bus.timeout_s:g} s")

    def _place(self, question: Question) -> str:
        return f"{self._bus.name} unit {question.unit_id} {question.table} {question.address}"


def _question_of(request: RegisterRequest) -> Question:
    return Question(request.unit_id, request.table, request.address, request.count)
