"""The simulated rig as an instrument that streams a text line on a pty."""

import asyncio
from collections.abc import Callable
from pathlib import Path

from simulators.pty_end import PtyEnd
from simulators.registers import text_line_of
from simulators.sensors import Reading


class TextLineRig:
    """Streams one line per call of `send`; while nobody has the port open, lines are lost as on a wire."""

    def __init__(self, read: Callable[[], Reading | None], link: Path | None = None) -> None:
        self._read = read
        self.end = PtyEnd(link)

    @property
    def path(self) -> str:
        """What a client opens."""
        return self.end.path

    def send(self) -> None:
        """Send the line of this moment; nothing while the device is silent or the reader does not read."""
        if not self.end.is_listened_to:
            return
        reading = self._read()
        if reading is not None:
            self.end.send(f"{text_line_of(reading)}\r\n".encode("ascii"))

    async def stream(self, interval_s: float) -> None:
        """Send for ever, on absolute deadlines."""
        loop = asyncio.get_running_loop()
        due_s = loop.time()
        while True:
            self.send()
            due_s = max(due_s + interval_s, loop.time())
            await asyncio.sleep(due_s - loop.time())

    def close(self) -> None:
        self.end.unplug()
