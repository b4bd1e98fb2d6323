"""An open serial port or pseudo terminal, read by the event loop as its bytes come."""

import asyncio
import errno
import os
import select
import termios
import time
from typing import Any

import serial

from logger.domain.bus import ModbusRtuBus, Parity
from logger.errors import DeviceError

_CHUNK = 4096
_TIMER_S = 0.0015
"""The event loop's timers are late by up to a millisecond, half a frame at 115200 Bd: the rest is slept."""
_KEEP = 64  # Chunks: nobody leaves more of them unread between two questions.


def has_wire(path: str) -> bool:
    """Tell whether bytes take their time by the baud rate: not on a pseudo terminal, nor behind a URL."""
    return "://" not in path and not is_pseudo_terminal(path)


def is_network(path: str) -> bool:
    """Tell whether a port is a connection to another machine."""
    return path.startswith(("socket://", "rfc2217://"))


def is_pseudo_terminal(path: str) -> bool:
    """Tell whether a path, or what a spy:// looks at, is a pseudo terminal."""
    return os.path.realpath(path.removeprefix("spy://").partition("?")[0]).startswith("/dev/pts/")


def character_format(path: str, parity: Parity, data_bits: int) -> dict[str, Any]:
    """Return parity and data bits as the port can take them.

    A pseudo terminal has eight bits and no parity, and refuses to be opened a second time with others.
    """
    if is_pseudo_terminal(path):
        return {"parity": Parity.NONE.value, "bytesize": serial.EIGHTBITS}
    return {"parity": parity.value, "bytesize": data_bits}


def open_fault(error: Exception) -> str:
    """Return why a port could not be opened, with what to do about it where that is known."""
    advice = _ADVICE.get(getattr(error, "errno", None) or 0)
    return f"cannot open: {error}" if advice is None else f"cannot open: {advice}"


_IN_USE = "another program has it open; a recorder that runs holds its ports: stop it first"
_ADVICE = {
    errno.EAGAIN: _IN_USE,
    errno.EBUSY: _IN_USE,
    errno.EACCES: "permission denied; the port's group, dialout on many systems, needs this user",
    errno.ENOENT: "no such port; beadwatch ports lists those that are there",
}
"""By the number of the operating system's error."""


class SerialPort:
    """Bytes in with their time of arrival (event loop seconds), bytes out; any failure is a DeviceError."""

    def __init__(self, bus: ModbusRtuBus) -> None:
        """Open the port for this process alone. Call within the running loop."""
        self._loop = asyncio.get_running_loop()
        self._where = f"{bus.name} ({bus.path})"
        try:
            self._port = serial.Serial(
                bus.path,
                baudrate=bus.baudrate,
                **character_format(bus.path, bus.parity, serial.EIGHTBITS),
                stopbits=bus.stop_bits,
                timeout=0,
                exclusive=True,
            )
        except (OSError, ValueError, termios.error) as error:
            raise DeviceError(f"{self._where}: {open_fault(error)}") from error
        self._fd = self._port.fileno()
        os.set_blocking(self._fd, False)
        self._chunks: list[tuple[float, bytes]] = []
        self._arrived = asyncio.Event()
        self._lost: str | None = None
        self.last_byte_s = self._loop.time()
        self.character_s = (1 + 8 + (bus.parity is not Parity.NONE) + bus.stop_bits) / bus.baudrate
        self.wire_character_s = self.character_s if has_wire(bus.path) else 0.0
        self._loop.add_reader(self._fd, self._on_readable)

    @property
    def is_lost(self) -> bool:
        return self._lost is not None

    def close(self) -> None:
        if self._port.is_open:
            self._loop.remove_reader(self._fd)
            self._port.close()
        self._lose("closed")

    def send(self, frame: bytes) -> None:
        """Write a whole frame at once."""
        self._raise_if_lost()
        try:
            written = os.write(self._fd, frame)
        except OSError as error:
            self._lose(str(error))
            raise DeviceError(f"{self._where}: cannot send: {error}") from error
        if written != len(frame):
            raise DeviceError(f"{self._where}: only {written} of {len(frame)} bytes were taken")

    def discard(self) -> None:
        """Throw away all that came, and all that has not left yet."""
        self._raise_if_lost()
        try:
            termios.tcflush(self._fd, termios.TCIOFLUSH)
        except termios.error as error:
            self._lose(str(error))
            raise DeviceError(f"{self._where}: link lost: {error}") from error
        self._chunks.clear()

    async def receive(self, deadline_s: float) -> tuple[float, bytes] | None:
        """Return the next bytes with their time of arrival, or None at the deadline (both loop seconds)."""
        while not self._chunks:
            self._raise_if_lost()
            self._arrived.clear()
            try:
                async with asyncio.timeout_at(deadline_s):
                    await self._arrived.wait()
            except TimeoutError:
                return None
        return self._chunks.pop(0)

    async def silence(self, quiet_s: float, limit_s: float) -> None:
        """Wait until no byte has come for `quiet_s` (counted from the last one), throwing away what comes.

        Raises DeviceError when that is not reached within `limit_s`.
        """
        end_s = self._loop.time() + limit_s
        while (rest_s := self.last_byte_s + quiet_s - (now_s := self._loop.time())) > 0:
            if now_s + rest_s > end_s + quiet_s:
                raise DeviceError(f"{self._where}: the line does not fall silent")
            if rest_s > _TIMER_S:
                await self.receive(now_s + rest_s - _TIMER_S)
            else:
                time.sleep(rest_s)
                if select.select([self._fd], [], [], 0)[0]:
                    self._on_readable()

    def _on_readable(self) -> None:
        try:
            data = os.read(self._fd, _CHUNK)
        except BlockingIOError:
            return
        except OSError as error:
            self._lose(str(error))
            return
        if not data:
            self._lose("unplugged")
            return
        self.last_byte_s = self._loop.time()
        self._chunks.append((self.last_byte_s, data))
        del self._chunks[:-_KEEP]
        self._arrived.set()

    def _lose(self, reason: str) -> None:
        if self._lost is None:
            self._lost = reason
            if self._port.is_open:
                self._loop.remove_reader(self._fd)
        self._arrived.set()

    def _raise_if_lost(self) -> None:
        if self._lost is not None:
            raise DeviceError(f"{self._where}: link lost: {self._lost}")
