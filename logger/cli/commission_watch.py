"""A rig watched during a trial: scaled as the recorder does, with why a reading was not used."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import median

from logger.acquire.watching import watched
from logger.cli.console import say
from logger.daemon.clock import MachineClock
from logger.domain.bus import Installation
from logger.domain.channel import Quality, Quantity
from logger.domain.commissioning import Seen
from logger.domain.sample import RawSample, Sample
from logger.domain.scale import Scaler
from logger.phases.drag import Plateau, Strokes, watch_strokes

SMOOTHED = 5
"""Readings whose median tells a stroke from a rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """What a watch of the rig brought: samples as the recorder scales them, each channel's readings."""

    samples: list[Sample]
    seen: dict[Quantity, list[Seen]]
    until_s: float = 0.0
    """When it ended; 0 while it lasts."""


def until_the_end(_watch: Watched) -> bool:
    return False


def watch(
    installation: Installation, seconds: float, is_enough: Callable[[Watched], bool] = until_the_end
) -> Watched:
    """Read the rig through its own drivers, for so long or until what was seen is enough."""
    say(f"  watching for {seconds:g} s ...")
    clock = MachineClock()
    scaler = Scaler(installation.rig)
    seen = Watched(samples=[], seen={channel.quantity: [] for channel in installation.rig.channels})

    def take(raw: RawSample) -> bool:
        seen.samples.append(scaler.read(raw))
        for reading in raw.readings:
            quality = scaler.qualities[reading.quantity]
            reason = "" if quality is Quality.GOOD else str(quality)
            seen.seen[reading.quantity].append(Seen(t_s=raw.t_ms / 1000, reason=reason))
        return is_enough(seen)

    asyncio.run(watched(installation, clock, seconds, take))
    return replace(seen, until_s=clock.mono_s())


class StrokeWatch:
    """Looks for a slow steady stroke, sample by sample; `plateau` is None until one is over."""

    def __init__(self) -> None:
        self.plateau: Plateau | None = None
        self._strokes = Strokes()
        self._last: list[float] = []

    def is_over(self, watch: Watched) -> bool:
        sample = watch.samples[-1]
        if sample.pressure_bar is not None:
            self._last = [*self._last[1 - SMOOTHED :], sample.pressure_bar]
        if self._last:
            self._strokes = watch_strokes(self._strokes, sample, median(self._last))
        self.plateau = self._strokes.counts
        return self.plateau is not None
