"""The monitor as the benchmark runs it, on a terminal of its own; what it measured goes into a file."""

import argparse
import asyncio
import json
import random
import time
from collections.abc import AsyncIterator
from pathlib import Path

from tests.unit.tui.fake_link import FakeLink, event, samples, snapshot, state, update
from tui.app import MonitorApp
from tui.link import Place, RecorderLink

RATE_HZ = 10
POINTS = 3000
"""Points of each of the two curves from the first redraw on: five minutes at 10 Hz."""
COOLING_AT_S = 20.0
SETTLE_S = 2.0


class QuietLink(FakeLink):
    """Cooling under constant pressure with a count of noise, in real time."""

    async def arrivals(self) -> AsyncIterator[object]:
        noise = random.Random(1)

        def readings(count: int) -> tuple[list[float], list[float]]:
            pressure = [10.46 + noise.choice((-1, 0, 0, 1)) * 0.0098 for _ in range(count)]
            return pressure, [220.0 + noise.choice((-1, 0, 0, 1)) * 0.1 for _ in range(count)]

        pressure, plate = readings(POINTS)
        times = [k / RATE_HZ for k in range(POINTS)]
        begun = (event(1, 2.0, "phase.bead_up"), event(2, COOLING_AT_S, "phase.cooling"))
        now = state("cooling", COOLING_AT_S, times[-1], events=begun)
        yield snapshot(now, samples(1, times, pressure, plate))
        seq, due_s = POINTS, time.monotonic()
        while True:
            due_s += 1 / RATE_HZ
            await asyncio.sleep(max(due_s - time.monotonic(), 0))
            seq += 1
            (p,), (q,) = readings(1)
            now = state("cooling", COOLING_AT_S, seq / RATE_HZ, pressure_bar=p, plate_degC=q)
            yield update(now, samples(seq, [seq / RATE_HZ], [p], [q]))


class MeasuredApp(MonitorApp):
    """Notes when what it knows has been drawn, and what that cost."""

    def __init__(self, link: object, seconds: float, result: Path) -> None:
        super().__init__(link)  # type: ignore[arg-type]
        self._seconds, self._result = seconds, result
        self._drawn: list[tuple[int, float]] = []
        self._late_s: list[float] = []
        self._looks = 0

    def on_ready(self) -> None:
        self.run_worker(self._measure())

    def look(self) -> None:
        super().look()
        self._looks += 1
        self.call_after_refresh(self._note, self.picture.last_seq)

    def _note(self, seq: int) -> None:
        if not self._drawn or self._drawn[-1][0] < seq:
            self._drawn.append((seq, time.monotonic()))

    async def _measure(self) -> None:
        await asyncio.sleep(SETTLE_S)
        begin = time.process_time(), time.monotonic(), self._looks
        self._drawn.clear()
        while time.monotonic() - begin[1] < self._seconds:
            due_s = time.monotonic() + 1 / RATE_HZ
            await asyncio.sleep(1 / RATE_HZ)
            self._late_s.append(time.monotonic() - due_s)
        measured = {
            "cpu_s": time.process_time() - begin[0],
            "from_s": begin[1],
            "to_s": time.monotonic(),
            "redraws": self._looks - begin[2],
            "drawn": self._drawn,
            "late_s": self._late_s,
        }
        self._result.write_text(json.dumps(measured), encoding="utf-8")
        self.exit()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("result", type=Path)
    parser.add_argument("--seconds", type=float, required=True)
    parser.add_argument("--socket", type=Path)
    options = parser.parse_args()
    link = RecorderLink(Place(socket=options.socket)) if options.socket else QuietLink()
    MeasuredApp(link, options.seconds, options.result).run()


if __name__ == "__main__":
    main()
