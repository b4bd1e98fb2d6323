"""Modbus RTU over a serial port: an own master for function codes 1 to 4.

Own, because the Modbus library cannot be made safe on a serial line: it does not tell when bytes arrived,
takes a late answer for the next one, does not look at its length and drops a frame behind a stray byte. Here:

- what waits before a question is thrown away, and what arrives before the question has left is no answer;
- an answer has the unit, function, byte count and CRC of its question, or it is none; bytes in front of it
  and whole frames of others are passed over;
- after a time-out or a cancellation the line is quiet for twice the declared worst latency; and as an answer
  may come later still, no question is asked while an answer of the same shape is open (`rtu_ledger`).
"""

import asyncio
from collections import defaultdict
from collections.abc import Sequence

from logger.acquire.decode import readings_of_payload
from logger.acquire.driver import Answer, RefusedError
from logger.acquire.grouping import RegisterRequest, Request
from logger.acquire.rtu_frame import (
    OVERHEAD_BYTES,
    QUESTION_BYTES,
    Question,
    Reply,
    exception_text,
    take_reply,
)
from logger.acquire.rtu_ledger import Ledger, shape_of
from logger.acquire.serial_port import SerialPort
from logger.domain.bus import ModbusRtuBus
from logger.domain.clock import Clock
from logger.errors import DeviceError

_FRAME_GAP_CHARACTERS = 3.5
_MIN_FRAME_GAP_S = 0.00175  # above 19200 baud; MODBUS over Serial Line V1.02, 2.5.1.1 (from memory)
_GARBLED_S = 0.05  # Longer than any pause within an answer, a USB adapter's 16 ms included.
_MAX_SILENCE_WAIT_S = 2.0
_FORGET_AFTER = 20  # times (time-out plus quiet time)


class _DamagedError(DeviceError):
    """The device did answer, though with nothing to use: no late answer is to be waited out."""


class ModbusRtuDriver:
    """One line with one or more units."""

    def __init__(self, bus: ModbusRtuBus, requests: Sequence[Request], clock: Clock) -> None:
        """Take all requests that will ever be read, since a probe must differ from each of them."""
        self._bus = bus
        self._clock = clock
        self._port: SerialPort | None = None
        self._must_be_quiet = True
        self._pause_s = bus.pause_s
        questions: dict[int, list[Question]] = defaultdict(list)
        for request in requests:
            if isinstance(request, RegisterRequest):
                questions[request.unit_id].append(_question_of(request))
        timings = [bus.timing_of(unit_id) for unit_id in questions] or [bus.timing_of(0)]
        self._quiet_s = 2.0 * max(timing.worst_latency_s for timing in timings)
        forget_after_s = _FORGET_AFTER * (max(timing.timeout_s for timing in timings) + self._quiet_s)
        self._ledgers = {unit_id: Ledger(asked, forget_after_s) for unit_id, asked in questions.items()}

    async def ensure_ready(self) -> None:
        if self._port is not None and not self._port.is_lost:
            return
        await self.ensure_closed()
        self._port = SerialPort(self._bus)
        # Whoever had the port before may have left questions unanswered.
        self._must_be_quiet = True
        for ledger in self._ledgers.values():
            ledger.open_all(asyncio.get_running_loop().time())

    async def ensure_closed(self) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None

    async def read(self, request: Request) -> Answer:
        """Ask once, after probes where an earlier question of the same shape is still open."""
        port = self._port
        if port is None or not isinstance(request, RegisterRequest):
            raise DeviceError(f"{self._bus.name}: not open")
        wanted = _question_of(request)
        ledger = self._ledgers[request.unit_id]
        loop = asyncio.get_running_loop()
        while (question := ledger.next_question(wanted, loop.time())) != wanted:
            if question is None:
                raise DeviceError(f"{self._place(wanted)}: earlier questions may still be answered")
            await self._exchange(port, question, wanted)
        payload, sent_s, received_s = await self._exchange(port, wanted, wanted)
        return Answer(readings=readings_of_payload(request, payload), sent_s=sent_s, received_s=received_s)

    async def _exchange(
        self, port: SerialPort, question: Question, wanted: Question
    ) -> tuple[bytes, float, float]:
        """Put one question; returns the data bytes of its answer with the clock before and after.

        A probe is over, without data, as soon as `wanted` may be asked.
        """
        await self._settle(port)
        self._pause_s = self._bus.timing_of(question.unit_id).pause_s
        try:
            port.discard()
            self._ledgers[question.unit_id].asked(question, asyncio.get_running_loop().time())
            sent_s = self._clock.mono_s()
            port.send(question.frame)
            payload = await self._listen(port, question, wanted)
            return payload, sent_s, self._clock.mono_s()
        except (RefusedError, _DamagedError):
            raise
        except BaseException:
            self._must_be_quiet = True
            port.last_byte_s = asyncio.get_running_loop().time()
            raise

    async def _settle(self, port: SerialPort) -> None:
        """Keep the pause between frames, or the long one after a question that was not answered."""
        if self._must_be_quiet:
            await port.silence(self._quiet_s, _MAX_SILENCE_WAIT_S + self._quiet_s)
            self._must_be_quiet = False
        gap_s = max(_MIN_FRAME_GAP_S, _FRAME_GAP_CHARACTERS * port.character_s) + self._pause_s
        await port.silence(gap_s, _MAX_SILENCE_WAIT_S + gap_s)

    async def _listen(self, port: SerialPort, question: Question, wanted: Question) -> bytes:
        loop = asyncio.get_running_loop()
        left_s = loop.time() + QUESTION_BYTES * port.wire_character_s
        timeout_s = self._bus.timing_of(question.unit_id).timeout_s
        deadline_s = left_s + timeout_s
        buffer = bytearray()
        refusal = ""
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
            while (reply := take_reply(buffer, question)) is not None:
                if self._is_answer(reply, question):
                    return reply.payload
                if reply.exception is not None:
                    refusal = exception_text(reply.exception)
                if question != wanted and self._ledgers[question.unit_id].is_free(wanted):
                    return b""
        if refusal:
            raise DeviceError(f"{self._place(question)}: {refusal}, or an earlier question")
        if len(buffer) >= enough:
            raise _DamagedError(f"{self._place(question)}: the answer is damaged ({len(buffer)} bytes)")
        raise DeviceError(f"{self._place(question)}: no answer within {timeout_s:g} s")

    def _is_answer(self, reply: Reply, question: Question) -> bool:
        """Enter a reply into the ledger; tells whether it answers `question`, raises where it refuses it."""
        ledger = self._ledgers[question.unit_id]
        if reply.exception is not None:
            if ledger.refused(question, reply.function):
                raise RefusedError(self._place(question), reply.exception)
            return False
        shape = (reply.function, len(reply.payload))
        ledger.answered(shape)
        return shape == shape_of(question)

    def _place(self, question: Question) -> str:
        return f"{self._bus.name} unit {question.unit_id} {question.table} {question.address}"


def _question_of(request: RegisterRequest) -> Question:
    return Question(request.unit_id, request.table, request.address, request.count)
