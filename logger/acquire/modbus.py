"""Modbus TCP, function codes 1 to 4: the only module that knows the Modbus library.

The transaction number keeps late answers apart here; unit, function, length and number of each answer are
checked all the same, on the frame itself, since the library checks neither length nor function and lets the
number 0 pass. It neither retries nor reconnects: two unanswered questions in a row or any other doubt about
the stream close the link, so a half-open one is noticed within two time-outs.
"""

import asyncio
import logging
import os
import socket
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from typing import Any

from pymodbus.client import AsyncModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ModbusPDU

from logger.acquire.decode import payload_bytes, readings_of_payload
from logger.acquire.driver import Answer, RefusedError
from logger.acquire.grouping import RegisterRequest, Request
from logger.acquire.rtu_frame import EXCEPTION_FLAG, FUNCTION_OF
from logger.domain.bus import ModbusTcpBus, Table
from logger.domain.clock import Clock
from logger.errors import DeviceError

_HEADER_BYTES = 9  # number, protocol, length (two bytes each), unit, function, byte count
_EXCEPTION_LENGTH = 3  # unit, function and code; an answer has its byte count there
_EXCEPTIONS = frozenset(code | EXCEPTION_FLAG for code in FUNCTION_OF.values())
_READS_OF_BITS = (FUNCTION_OF[Table.COIL], FUNCTION_OF[Table.DISCRETE])
_UNANSWERED_LIMIT = 2
_KEEPALIVE_S = 5
_Making = Coroutine[Any, Any, Any]


class ModbusTcpDriver:
    """One connection to one device or gateway; made within the running loop."""

    def __init__(self, bus: ModbusTcpBus, _requests: Sequence[Request], clock: Clock) -> None:
        self._bus = bus
        self._clock = clock
        self._where = f"{bus.name} ({bus.host}:{bus.port})"
        self._client: AsyncModbusTcpClient | None = None
        self._is_lost = False
        self._is_asking = False
        self._received = b""
        self._unanswered = 0
        # The library logs every time-out as an error; here an edge is logged once, by the poller.
        logging.getLogger("pymodbus").setLevel(logging.CRITICAL)

    async def ensure_ready(self) -> None:
        if self._client is not None and self._client.connected and not self._is_lost:
            return
        await self.ensure_closed()
        self._is_lost = False
        self._unanswered = 0
        client = AsyncModbusTcpClient(
            self._bus.host,
            port=self._bus.port,
            timeout=self._bus.timeout_s,
            retries=0,
            reconnect_delay=0,
            trace_packet=self._keep_packet,
            trace_connect=self._note_link,
        )
        self._client = client
        failures: list[OSError] = []
        client.ctx.call_create = _noting(client.ctx.call_create, failures)
        try:
            is_connected = await client.connect()
        except (ModbusException, OSError) as error:
            raise DeviceError(f"{self._where}: cannot connect: {error}") from error
        if failures:
            raise DeviceError(f"{self._where}: cannot connect: {_reason(failures[-1])}") from failures[-1]
        if not is_connected:
            raise DeviceError(f"{self._where}: cannot connect within {self._bus.timeout_s:g} s")
        self._keep_alive(client)

    async def ensure_closed(self) -> None:
        self._close()

    def _close(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None

    async def read(self, request: Request) -> Answer:
        """Ask once; raises DeviceError at the time-out, at the loss of the link or for any wrong answer."""
        if not isinstance(request, RegisterRequest):
            raise DeviceError(f"{self._where}: cannot read a text field")
        client = self._client
        if client is None or not client.connected or self._is_lost:
            raise DeviceError(f"{self._where}: not connected")
        self._received = b""
        sent_s = self._clock.mono_s()
        reply = await self._reply(client, request)
        received_s = self._clock.mono_s()
        if reply.isError():
            raise RefusedError(self._place(request), getattr(reply, "exception_code", 0))
        payload = self._payload(request, reply)
        return Answer(readings=readings_of_payload(request, payload), sent_s=sent_s, received_s=received_s)

    async def _reply(self, client: AsyncModbusTcpClient, request: RegisterRequest) -> ModbusPDU:
        """Wait for the answer or the loss of the link, whichever is first.

        A question nobody waits for any more takes its link with it: its late answer dies with it.
        """
        timeout_s = self._bus.timing_of(request.unit_id).timeout_s
        client.ctx.comm_params.timeout_connect = timeout_s  # It bounds the library's wait for an answer too.
        self._is_asking = True
        try:
            reply = await _read_of(client, request)
            task = asyncio.current_task()
            if task is not None and task.cancelling():
                # `wait_for` of Python 3.11, in the library, loses a cancellation that comes with the answer.
                raise asyncio.CancelledError
        except asyncio.CancelledError:
            self._close()
            raise
        except ModbusException as error:
            if self._is_lost:
                self._close()
                raise DeviceError(f"{self._where}: link lost") from error
            self._unanswered += 1
            if self._unanswered >= _UNANSWERED_LIMIT:
                self._close()
            raise DeviceError(f"{self._where}: no answer within {timeout_s:g} s") from error
        finally:
            self._is_asking = False
        self._unanswered = 0
        return reply

    def _payload(self, request: RegisterRequest, reply: ModbusPDU) -> bytes:
        """Return the data bytes of the last received frame after checking all of its header."""
        size = payload_bytes(holds_bits=request.table.holds_bits, count=request.count)
        frame = self._received[-(_HEADER_BYTES + size) :]
        header = reply.transaction_id.to_bytes(2, "big") + b"\x00\x00" + (3 + size).to_bytes(2, "big")
        header += bytes((request.unit_id, FUNCTION_OF[request.table], size))
        if reply.transaction_id == 0 or frame[:_HEADER_BYTES] != header:
            self._close()
            raise DeviceError(f"{self._place(request)}: the answer does not fit the question")
        return frame[_HEADER_BYTES:]

    def _keep_packet(self, sending: bool, data: bytes) -> bytes:  # noqa: FBT001 - the library's signature
        if sending:
            return data
        self._received = data
        return data if _is_sound(data) else b""

    def _note_link(self, connected: bool) -> None:  # noqa: FBT001 - the library's signature
        """End the wait of an open question with its link, which the library does not."""
        if connected or self._client is None:
            return
        self._is_lost = True
        waiting = self._client.ctx.response_future
        if self._is_asking and not waiting.done():
            waiting.set_exception(ConnectionException("link lost"))

    def _keep_alive(self, client: AsyncModbusTcpClient) -> None:
        """Let the kernel notice a dead peer even while nothing is asked."""
        link: socket.socket = client.ctx.transport.get_extra_info("socket")
        link.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, _KEEPALIVE_S)
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, _KEEPALIVE_S)
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 2)

    def _place(self, request: RegisterRequest) -> str:
        return f"{self._where} unit {request.unit_id} {request.table} {request.address}"


def _noting(create: Callable[[], _Making], failures: list[OSError]) -> Callable[[], _Making]:
    """Keep why no connection came about: the library only says that none did."""

    async def create_noting() -> Any:
        try:
            return await create()
        except OSError as error:
            failures.append(error)
            raise

    return create_noting


def _reason(error: OSError) -> str:
    """The system's words: asyncio puts the address in their place, which is said already."""
    if error.errno is None or isinstance(error, socket.gaierror):
        return error.strerror or str(error)
    return os.strerror(error.errno)


def _is_sound(data: bytes) -> bool:
    """Tell whether received bytes begin with the head of an answer to a read.

    Anything else is kept from the library, which would end the link with a traceback; the question then runs
    into its time-out, and what came is gone before the next.
    """
    if len(data) < _HEADER_BYTES or data[2:4] != b"\x00\x00":
        return False
    length, function, size = int.from_bytes(data[4:6], "big"), data[7], data[8]
    if function in _EXCEPTIONS:
        return length == _EXCEPTION_LENGTH
    is_whole = function in _READS_OF_BITS or size % 2 == 0
    return function in FUNCTION_OF.values() and length == _EXCEPTION_LENGTH + size and is_whole


_READS: dict[Table, Callable[..., Awaitable[ModbusPDU]]] = {
    Table.COIL: AsyncModbusTcpClient.read_coils,
    Table.DISCRETE: AsyncModbusTcpClient.read_discrete_inputs,
    Table.HOLDING: AsyncModbusTcpClient.read_holding_registers,
    Table.INPUT: AsyncModbusTcpClient.read_input_registers,
}
"""There is no way from here to any other function code."""


def _read_of(client: AsyncModbusTcpClient, request: RegisterRequest) -> Awaitable[ModbusPDU]:
    """Read the table of a request."""
    read = _READS[request.table]
    return read(client, request.address, count=request.count, device_id=request.unit_id)
