"""The simulated rig as a Modbus device on TCP and on a pty (RTU)."""

import asyncio
import contextlib
import logging
import os
import tty
from collections.abc import Callable
from typing import cast

from pymodbus.constants import ExcCodes
from pymodbus.framer import FramerType
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from simulators.registers import REGISTER_COUNT, UNIT_ID, registers_of
from simulators.sensors import Reading


class ModbusRig:
    """Answers every request with the reading of that moment; None is silence."""

    def __init__(self, read: Callable[[], Reading | None]) -> None:
        self._read = read
        self._servers: list[ModbusTcpServer | ModbusSerialServer] = []
        self._bridge: _PtyBridge | None = None
        # The library prints its last frames whenever a client hangs up; nothing is wrong then.
        logging.getLogger("pymodbus").setLevel(logging.CRITICAL)

    async def serve_tcp(self, host: str, port: int) -> tuple[str, int]:
        """Listen; returns the address, with the real port where 0 was asked for.

        Raises:
            OSError: the address cannot be listened on.
        """
        server = ModbusTcpServer(self._device(), address=(host, port), trace_packet=self._unless_silent)
        await _start(server, f"{host}:{port}")
        self._servers.append(server)
        bound = cast(asyncio.Server, server.transport).sockets[0].getsockname()
        return str(bound[0]), int(bound[1])

    async def serve_rtu(self) -> str:
        """Open a pty and serve RTU on it; returns the path that a client opens."""
        self._bridge = _PtyBridge()
        server = ModbusSerialServer(
            self._device(),
            framer=FramerType.RTU,
            port=self._bridge.server_path,
            baudrate=115200,
            trace_packet=self._unless_silent,
        )
        await _start(server, self._bridge.server_path)
        self._servers.append(server)
        return self._bridge.client_path

    async def close(self) -> None:
        """Free ports and ptys."""
        for server in self._servers:
            await server.shutdown()  # type: ignore[no-untyped-call]
        if self._bridge is not None:
            self._bridge.close()

    def _device(self) -> SimDevice:
        block = SimData(0, values=[0] * REGISTER_COUNT, datatype=DataType.REGISTERS)
        return SimDevice(id=UNIT_ID, simdata=[block], action=self._refresh)

    async def _refresh(
        self,
        _function_code: int,
        _start_address: int,
        _address: int,
        _count: int,
        registers: list[int],
        set_values: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        if set_values is not None:
            return ExcCodes.ILLEGAL_FUNCTION
        reading = self._read()
        if reading is not None:
            registers[0:REGISTER_COUNT] = registers_of(reading)
        return None

    def _unless_silent(self, sending: bool, data: bytes) -> bytes:  # noqa: FBT001 - the library's own call
        return b"" if sending and self._read() is None else data


async def _start(server: ModbusTcpServer | ModbusSerialServer, where: str) -> None:
    try:
        await server.serve_forever(background=True)
    except RuntimeError as err:
        raise OSError(f"{where} cannot be served") from err


class _PtyBridge:
    """Two ptys back to back: the library opens one end by its path, the client the other."""

    def __init__(self) -> None:
        self._ends = [*os.openpty(), *os.openpty()]
        for end in self._ends:
            tty.setraw(end)
        one, server, other, client = self._ends
        self.server_path = os.ttyname(server)
        self.client_path = os.ttyname(client)
        loop = asyncio.get_running_loop()
        for source, sink, unit_id in ((one, other, None), (other, one, UNIT_ID)):
            os.set_blocking(source, False)
            loop.add_reader(source, _pass_on, source, sink, unit_id)

    def close(self) -> None:
        loop = asyncio.get_running_loop()
        for end in self._ends:
            loop.remove_reader(end)
            os.close(end)


def _pass_on(source: int, sink: int, unit_id: int | None) -> None:
    """Pass on what came; with a unit only what is asked of it, since on a line each hears all."""
    with contextlib.suppress(BlockingIOError):
        data = os.read(source, 4096)
        if unit_id is None or data[:1] == bytes((unit_id,)):
            os.write(sink, data)
