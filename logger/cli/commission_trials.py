"""The trials of a commissioning: ask, watch the rig for a while, say what came of it. Only reads."""

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import fmean, median

from logger.acquire.watching import watched
from logger.cli.console import ask, say
from logger.config.quantity import AREA, parse_quantity
from logger.daemon.clock import MachineClock
from logger.domain.bus import Installation, ReplayBus
from logger.domain.channel import Quality, Quantity
from logger.domain.commissioning import (
    Interruption,
    Outcome,
    Seen,
    Trial,
    TrialResult,
    area_result,
    interruptions,
    leak_down_result,
    plate_result,
)
from logger.domain.sample import Sample
from logger.domain.scale import Scaler
from logger.phases.drag import Plateau, Strokes, watch_strokes
from logger.phases.release_lag import release_lag
from logger.wording.commission_text import interruption_text

SMOOTHED = 5
"""Readings whose median tells a stroke from a rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """What a watch of the rig brought: samples as the recorder scales them, each channel's readings."""

    samples: list[Sample]
    seen: dict[Quantity, list[Seen]]
    until_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """The rig under trial; each watch lasts `seconds`, a leak-down `leak_seconds`."""

    installation: Installation
    seconds: float
    leak_seconds: float
    strokes: int

    def subjects(self, trial: Trial) -> list[str]:
        """Return what the trial is done with, one after the other; "" for the rig as a whole."""
        if trial is Trial.WIRE:
            return [str(binding.channel.quantity) for binding in self.installation.bindings]
        if trial is Trial.UNPLUG:
            return [bus.name for bus in self.installation.buses if not isinstance(bus, ReplayBus)]
        return [""]

    def results(self, trial: Trial, subject: str) -> list[TrialResult]:
        """Do one trial. Raises ValueError for an answer that is none."""
        match trial:
            case Trial.AREA:
                return self._area()
            case Trial.DRAG:
                return self._drag()
            case Trial.LAG:
                return self._lag()
            case Trial.LEAK_DOWN:
                return self._leak_down()
            case Trial.PLATE:
                return self._plate()
            case Trial.WIRE:
                return [self._interrupted(trial, subject, [Quantity(subject)])]
            case Trial.UNPLUG:
                on_bus = [b.channel.quantity for b in self.installation.bindings if b.bus == subject]
                return [self._interrupted(trial, subject, on_bus)]
            case Trial.POWER_DIP:
                return [self._power_dip()]

    def watch(self, seconds: float) -> Watched:
        """Read the rig through its own drivers."""
        say(f"  watching for {seconds:g} s ...")
        clock = MachineClock()
        raws = asyncio.run(watched(self.installation, clock, seconds)).samples
        until_s = clock.mono_s()
        scaler = Scaler(self.installation.rig)
        samples: list[Sample] = []
        seen: dict[Quantity, list[Seen]] = {
            channel.quantity: [] for channel in self.installation.rig.channels
        }
        for raw in raws:
            samples.append(scaler.read(raw))
            for reading in raw.readings:
                quality = scaler.qualities[reading.quantity]
                reason = "" if quality is Quality.GOOD else str(quality)
                seen[reading.quantity].append(Seen(t_s=raw.t_ms / 1000, reason=reason))
        return Watched(samples=samples, seen=seen, until_s=until_s)

    def _area(self) -> list[TrialResult]:
        plate_mm2 = parse_quantity(ask('  On the machine\'s plate, like "6.29 cm2"'), AREA)
        area_mm2 = self.installation.rig.piston_area_mm2
        if area_mm2 is None:
            note = "the rig file gives no area: each joint has to"
            figures = {"nameplate_mm2": plate_mm2}
            return [TrialResult(trial=Trial.AREA, outcome=Outcome.FAILED, figures=figures, note=note)]
        return [area_result(plate_mm2, area_mm2)]

    def _drag(self) -> list[TrialResult]:
        plateaus = []
        for number in range(1, self.strokes + 1):
            if number > 1:
                ask(f"  Stroke {number} of {self.strokes}: open, everyone clear, then Enter")
            plateau = _plateau(self.watch(self.seconds).samples)
            say(f"  drag {plateau.pressure_bar:.2f} bar" if plateau else "  no slow steady stroke was seen")
            plateaus += [plateau] if plateau else []
        if not plateaus:
            note = "no slow steady closing stroke was seen"
            return [TrialResult(trial=Trial.DRAG, outcome=Outcome.FAILED, note=note)]
        drags = [plateau.pressure_bar for plateau in plateaus]
        figures = {"drag_bar": fmean(drags), "least_bar": min(drags), "greatest_bar": max(drags)}
        peaks = [one.breakaway_bar for one in plateaus if one.breakaway_bar is not None]
        if peaks:
            figures["breakaway_bar"] = max(peaks)
        note = f"{len(plateaus)} of {self.strokes} strokes" + ("" if peaks else "; no breakaway peak seen")
        return [TrialResult(trial=Trial.DRAG, outcome=Outcome.MEASURED, figures=figures, note=note)]

    def _lag(self) -> list[TrialResult]:
        found = release_lag(self.watch(2 * self.seconds).samples)
        if found is None:
            note = "no pressure held for 3 s and let go at one go was seen"
            return [TrialResult(trial=Trial.LAG, outcome=Outcome.FAILED, note=note)]
        figures = {"lag_s": found.lag_s, "standard_uncertainty_s": found.u_s}
        note = f"releases: {found.releases}"
        return [TrialResult(trial=Trial.LAG, outcome=Outcome.MEASURED, figures=figures, note=note)]

    def _leak_down(self) -> list[TrialResult]:
        text = ask("  Leak-down before the sensors were fitted, bar/min (empty: not known)")
        before = float(text) if text else None
        pairs = _pairs(self.watch(self.leak_seconds).samples)
        return [leak_down_result([t_s for t_s, _ in pairs], [bar for _, bar in pairs], before)]

    def _plate(self) -> list[TrialResult]:
        instrument = ask("  Contact thermometer and its serial")
        if not instrument:
            raise ValueError("a reading needs its instrument")
        results = []
        for face in ("a", "b"):
            text = ask(f"  Face {face}, °C at each point, parted by blanks")
            readings = [float(part) for part in text.replace(",", " ").split()]
            if len(readings) < 2:
                raise ValueError("two points are needed at least")
            samples = self.watch(min(self.seconds, 5.0)).samples
            values = [s.plate_temperature_degC for s in samples if s.plate_temperature_degC is not None]
            if not values:
                raise ValueError("the built-in sensor gave no reading")
            results.append(plate_result(face, readings, fmean(values), instrument))
        return results

    def _interrupted(self, trial: Trial, subject: str, quantities: list[Quantity]) -> TrialResult:
        found = [
            one
            for quantity, one in self._all_interruptions(self.watch(self.seconds))
            if quantity in quantities
        ]
        if not found:
            note = "nothing was noticed: such a break passes for a value (declare signal or valid)"
            return TrialResult(trial=trial, subject=subject, outcome=Outcome.FAILED, note=note)
        longest = max(found, key=lambda one: float("inf") if one.to_s is None else one.to_s - one.from_s)
        outcome = Outcome.FAILED if longest.to_s is None else Outcome.PASSED
        figures = {} if longest.to_s is None else {"away_s": longest.to_s - longest.from_s}
        note = interruption_text(longest)
        return TrialResult(trial=trial, subject=subject, outcome=outcome, figures=figures, note=note)

    def _power_dip(self) -> TrialResult:
        watch = self.watch(self.seconds)
        found = list(self._all_interruptions(watch))
        if not all(watch.seen.values()):
            note = "not every channel gave readings"
            return TrialResult(trial=Trial.POWER_DIP, outcome=Outcome.FAILED, note=note)
        note = "; ".join(f"{quantity}: {interruption_text(one)}" for quantity, one in found)
        outcome = Outcome.FAILED if found else Outcome.PASSED
        return TrialResult(trial=Trial.POWER_DIP, outcome=outcome, note=note or "no reading was lost")

    def _all_interruptions(self, watch: Watched) -> Iterator[tuple[Quantity, Interruption]]:
        for channel in self.installation.rig.channels:
            for one in interruptions(watch.seen[channel.quantity], channel.rate_hz, watch.until_s):
                yield channel.quantity, one


def _pairs(samples: list[Sample]) -> list[tuple[float, float]]:
    return [(s.t_s, s.pressure_bar) for s in samples if s.pressure_bar is not None]


def _plateau(samples: list[Sample]) -> Plateau | None:
    """Return the plateau of the stroke in this watch, None where none was slow and steady."""
    strokes = Strokes()
    last: list[float] = []
    for sample in samples:
        if sample.pressure_bar is not None:
            last = [*last[1 - SMOOTHED :], sample.pressure_bar]
        if last:
            strokes = watch_strokes(strokes, sample, median(last))
    return strokes.counts
