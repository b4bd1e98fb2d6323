"""The simulated rig as a Modbus device on TCP and on a pty (RTU)."""

import asyncio
import logging
import socket
import struct
import sys
from collections.abc import Callable
from pathlib import Path
from typing import cast

from pymodbus.constants import ExcCodes
from pymodbus.framer import FramerType
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from simulators.pty_end import PtyEnd
from simulators.registers import REGISTER_COUNT, UNIT_ID, registers_of
from simulators.sensors import Reading

_LISTEN_AGAIN_S = 0.1
_RESET_AT_CLOSE = struct.pack("ii", 1, 0)
"""SO_LINGER: on, for no time; what is closed then is reset."""


class ModbusRig:
    """Answers every request with the reading of that moment; None is silence.

    The plug and the supply can be taken away and given back, each by itself. The converter of the serial line
    has its power from the recorder's side: a supply that breaks down leaves the line, with nobody on it.
    """

    def __init__(self, read: Callable[[], Reading | None]) -> None:
        self._read = read
        self._tcp: ModbusTcpServer | None = None
        self._address: tuple[str, int] | None = None
        self._rtu: ModbusSerialServer | None = None
        self._bridge: _PtyBridge | None = None
        self._is_plugged = self._is_powered = True
        # The library prints its last frames whenever a client hangs up; nothing is wrong then.
        logging.getLogger("pymodbus").setLevel(logging.CRITICAL)

    async def serve_tcp(self, host: str, port: int) -> tuple[str, int]:
        """Listen; returns the address, with the real port where 0 was asked for.

        Raises:
            OSError: the address cannot be listened on.
        """
        server = ModbusTcpServer(self._device(), address=(host, port), trace_packet=self._unless_silent)
        await _start(server, f"{host}:{port}")
        self._tcp = server
        bound = cast(asyncio.Server, server.transport).sockets[0].getsockname()
        self._address = (str(bound[0]), int(bound[1]))
        return self._address

    async def serve_rtu(self, link: Path | None = None) -> str:
        """Open a pty and serve RTU on it; returns the path that a client opens: `link` where one is given."""
        self._bridge = _PtyBridge(link)
        server = ModbusSerialServer(
            self._device(),
            framer=FramerType.RTU,
            port=self._bridge.server_path,
            baudrate=115200,
            trace_packet=self._unless_silent,
        )
        await _start(server, self._bridge.server_path)
        self._rtu = server
        return self._bridge.client.path

    async def unplug(self) -> None:
        """Take the line's pty away, and the listening port with all its connections."""
        self._is_plugged = False
        if self._bridge is not None:
            self._bridge.client.unplug()
        await self._close_tcp()

    async def plug(self) -> None:
        """Give them back: another pty under the same name, the same port."""
        self._is_plugged = True
        if self._bridge is not None:
            self._bridge.client.plug()
        await self._listen_again()

    def lose_power(self) -> None:
        """Stop listening; connections are left hanging, since a device without power says no farewell."""
        self._is_powered = False
        if self._tcp is not None and self._tcp.transport is not None:
            self._tcp.transport.close()

    async def restart(self) -> None:
        """Listen again, and reset the connections of before, of which the device knows nothing any more."""
        self._is_powered = True
        if self._tcp is not None:
            for connection in self._tcp.active_connections.values():
                link: socket.socket = connection.transport.get_extra_info("socket")
                link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET_AT_CLOSE)
        await self._close_tcp()
        await self._listen_again()

    async def close(self) -> None:
        """Free ports and ptys."""
        await self._close_tcp()
        if self._rtu is not None:
            await self._rtu.shutdown()  # type: ignore[no-untyped-call]
        if self._bridge is not None:
            self._bridge.close()

    async def _close_tcp(self) -> None:
        if self._tcp is not None:
            await self._tcp.shutdown()  # type: ignore[no-untyped-call]
            self._tcp = None

    async def _listen_again(self) -> None:
        """Try until the port is free: somebody else may have taken it meanwhile."""
        told = False
        while self._is_plugged and self._is_powered and self._tcp is None and self._address is not None:
            try:
                await self.serve_tcp(*self._address)
            except OSError as err:
                if not told:
                    print(err, file=sys.stderr)
                told = True
                await asyncio.sleep(_LISTEN_AGAIN_S)

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
    """Two ptys back to back: the library opens one end by its path, the client the other.

    The library keeps its end for good, so that the client's can be pulled out and plugged in again. What is
    asked of another unit is not passed on: on a line each hears all and keeps silent.
    """

    def __init__(self, link: Path | None) -> None:
        self._server = PtyEnd(take=lambda data: self.client.send(data))
        self.server_path = self._server.path
        self.client = PtyEnd(link, self._ask)

    def _ask(self, data: bytes) -> None:
        if data[:1] == bytes((UNIT_ID,)):
            self._server.send(data)

    def close(self) -> None:
        self.client.unplug()
        self._server.unplug()
