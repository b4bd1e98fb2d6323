"""The monitor as plain lines: one for each event, a state line when Enter is pressed.

For screen readers and scripts. Nothing is redrawn, nothing is coloured.
"""

import asyncio
import contextlib
import sys
import threading
import time
from collections.abc import AsyncIterator

from logger.wire.stream import HelloMessage, SamplesMessage
from logger.wording.units import Units
from tui.catalogue import tr
from tui.forwarding import forwarding_lines
from tui.link import Link, Lost
from tui.model import Picture
from tui.words import (
    big_pressure,
    deviation_lines,
    event_text,
    head_line,
    phase_line,
    plate_line,
    pressure_caption,
    troubles,
)


class PlainMonitor:
    """Follows one recorder and prints."""

    def __init__(self, link: Link, units: Units) -> None:
        self._link = link
        self._picture = Picture(units)
        self._is_lost = False
        self._deviations = 0
        self._seen = 0

    async def run(self) -> None:
        """Until the input ends and the link is closed from outside, or for ever."""
        asking = asyncio.create_task(self._answer())
        try:
            await self._follow()
        finally:
            asking.cancel()

    async def _follow(self) -> None:
        async for arrival in self._link.arrivals():
            match arrival:
                case Lost():
                    self._picture.lose(arrival.reason)
                    if not self._is_lost:
                        _print(tr("link lost: {reason}", reason=arrival.reason))
                    self._is_lost = True
                case HelloMessage():
                    _print(tr("link to {rig}", rig=arrival.rig))
                    self._is_lost = False
                case SamplesMessage():
                    self._picture.take_samples(arrival)
                case _:
                    self._picture.take(arrival, time.monotonic())
                    self._tell()

    def _tell(self) -> None:
        state = self._picture.state
        for event in state.events if state else ():
            if event.seq > self._seen:
                self._seen = event.seq
                _print(f"{event.at_s:.1f} s  {event_text(event)}")
        count = len(self._picture.watch.seen)
        if count > self._deviations:
            _print(*deviation_lines(self._picture, count - self._deviations))
        self._deviations = count

    async def _answer(self) -> None:
        async for _ in _lines_typed():
            _print(self.state_line())

    def state_line(self) -> str:
        """Everything on one line."""
        now_s = time.monotonic()
        picture = self._picture
        cue = picture.cue(now_s)
        pressure = f"{big_pressure(picture, now_s)} {pressure_caption(picture)}".strip()
        time_text = f"{cue.figure} {cue.caption}".strip()
        parts = [
            head_line(picture), phase_line(picture), time_text, cue.action, *cue.cautions, pressure,
            plate_line(picture), *deviation_lines(picture, 3), *troubles(picture, now_s),
            *forwarding_lines(picture),
        ]  # fmt: skip
        return "; ".join(part for part in parts if part)


async def _lines_typed() -> AsyncIterator[str]:
    """Lines from standard input until it ends."""
    loop = asyncio.get_running_loop()
    lines: asyncio.Queue[str] = asyncio.Queue()

    def read() -> None:
        # A thread that waits for a key must not hold up the end of the program.
        with contextlib.suppress(RuntimeError):
            for line in sys.stdin:
                loop.call_soon_threadsafe(lines.put_nowait, line)

    threading.Thread(target=read, daemon=True).start()
    while True:
        yield await lines.get()


def _print(*lines: str) -> None:
    for line in lines:
        sys.stdout.write(f"{line}\n")
    sys.stdout.flush()
