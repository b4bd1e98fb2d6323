"""The simulated rig as an instrument that streams a text line on a pty."""

import asyncio
import contextlib
import os
import select
import tty
from collections.abc import Callable

from simulators.registers import text_line_of
from simulators.sensors import Reading


class TextLineRig:
    """Streams one line per call of `send`; while nobody has the port open, lines are lost as on a wire."""

    def __init__(self, read: Callable[[], Reading | None]) -> None:
        self._read = read
        self._master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(self._master, False)
        self.path = os.ttyname(slave)
        os.close(slave)
        self._poll = select.poll()
        self._poll.register(self._master, select.POLLOUT)

    @property
    def is_listened_to(self) -> bool:
        """Somebody has the port open."""
        return not any(event & select.POLLHUP for _fd, event in self._poll.poll(0))

    def send(self) -> None:
        """Send the line of this moment; nothing while the device is silent or the reader does not read."""
        if not self.is_listened_to:
            return
        reading = self._read()
        if reading is not None:
            with contextlib.suppress(BlockingIOError):
                os.write(self._master, f"{text_line_of(reading)}\r\n".encode("ascii"))

    async def stream(self, interval_s: float) -> None:
        """Send for ever, on absolute deadlines."""
        loop = asyncio.get_running_loop()
        due_s = loop.time()
        while True:
            self.send()
            due_s = max(due_s + interval_s, loop.time())
            await asyncio.sleep(due_s - loop.time())

    def close(self) -> None:
        os.close(self._master)
