"""Curves drawn by hand from straight lines: a check of detection with no rig model behind it."""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, sqrt

from logger.domain.sample import Sample

DRAG_BAR = 8.0
JOINING_BAR = 28.0


@dataclass(frozen=True)
class Drawn:
    """Corner points (t_s, bar) joined by straight lines, and the boundaries that were drawn."""

    corners: tuple[tuple[float, float], ...]
    truth: dict[str, tuple[float, float]]

    def samples(self, *, rate_hz: float = 10.0, noise_bar: float = 0.05, seed: int = 1) -> list[Sample]:
        rng = random.Random(seed)
        rows = []
        end_s = self.corners[-1][0]
        phase_s = rng.random() / rate_hz
        for k in range(int((end_s - phase_s) * rate_hz)):
            t_s = round(phase_s + k / rate_hz, 3)
            bar = self.at(t_s) + rng.gauss(0.0, noise_bar)
            rows.append(Sample(t_s=t_s, pressure_bar=round(bar, 3), plate_temperature_degC=220.0))
        return rows

    def at(self, t_s: float) -> float:
        for (t0, p0), (t1, p1) in zip(self.corners, self.corners[1:], strict=False):
            if t0 <= t_s <= t1:
                return p0 + (p1 - p0) * (t_s - t0) / (t1 - t0)
        raise ValueError(t_s)


class _Pen:
    def __init__(self) -> None:
        self.t_s = 0.0
        self.corners = [(0.0, 0.0)]

    def line(self, seconds: float, bar: float) -> float:
        self.t_s += seconds
        self.corners.append((self.t_s, bar))
        return self.t_s

    def hold(self, seconds: float) -> float:
        return self.line(seconds, self.corners[-1][1])


def draw_joint(
    *,
    bead_up_s: float = 25.0,
    soak_s: float = 120.0,
    open_s: float = 4.0,
    ramp_s: float = 5.0,
    cooling_s: float = 300.0,
    soak_bar: float = 1.0,
    bead_up_bar: float = JOINING_BAR,
    joining_bar: float = JOINING_BAR,
    line_side: bool = True,
    preparation: bool = True,
) -> Drawn:
    """Draw one whole joint; the changeover opens with a step from soak level (line side: a pulse at drag)."""
    pen = _Pen()
    pen.hold(10)
    if preparation:
        for level, seconds in ((DRAG_BAR, 6), (DRAG_BAR + 6, 45), (JOINING_BAR, 6)):
            pen.line(0.3, level)
            pen.hold(seconds)
            pen.line(0.3, 0.0)
            pen.hold(20)
    pen.line(0.2, DRAG_BAR)
    t = {"bead_up": pen.hold(2.0)}
    pen.line(1.0, bead_up_bar)
    t["heat_soak"] = pen.hold(bead_up_s)
    pen.line(0.8, soak_bar)
    t["changeover"] = pen.hold(soak_s)
    if line_side:
        pen.line(0.1, DRAG_BAR)
        pen.hold(0.8)
    pen.line(0.1, 0.0)
    pen.hold(open_s - 2.6 if line_side else open_s - 1.7)
    pen.line(0.1, DRAG_BAR)
    t["pressure_build_up"] = pen.hold(1.5)
    pen.line(ramp_s, joining_bar)
    t["ramp_end"] = pen.t_s
    t["released"] = pen.hold(cooling_s)
    pen.line(0.8, 0.0)
    pen.hold(15)
    names = ("bead_up", "heat_soak", "changeover", "pressure_build_up", "cooling")
    starts = [t[k] for k in (*names[:4], "ramp_end", "released")]
    truth = {name: (a, b) for name, a, b in zip(names, starts, starts[1:], strict=False)}
    return Drawn(tuple(pen.corners), truth)


def remembering_noise(
    rng: random.Random, count: int, *, rate_hz: float, memory_s: float, sigma: float
) -> Iterator[float]:
    """Noise of a transmitter that damps: it remembers itself over `memory_s`; 0 is white."""
    share = exp(-1.0 / rate_hz / memory_s) if memory_s else 0.0
    noise = rng.gauss(0.0, sigma)
    for _ in range(count):
        yield noise
        noise = share * noise + sqrt(1.0 - share * share) * rng.gauss(0.0, sigma)
