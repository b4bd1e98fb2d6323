"""The trials of a commissioning: ask, watch the rig for a while, say what came of it. Only reads."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import fmean

from logger.cli.commission_watch import StrokeWatch, Watched, until_the_end, watch
from logger.cli.console import ask, say
from logger.config.quantity import AREA, parse_quantity
from logger.domain.bus import Installation, ModbusPoint, ReplayBus
from logger.domain.channel import Quantity
from logger.domain.commissioning import (
    GAP,
    Interruption,
    Outcome,
    Trial,
    TrialResult,
    area_result,
    interruptions,
    leak_down_result,
    plate_result,
)
from logger.domain.sample import Sample
from logger.phases.release_lag import release_lag
from logger.wording.commission_text import UNNOTICED, interruption_text

LEAST_POINTS = 4
"""Of a face of the plate."""
PLATE_S = 3.0
"""So long the built-in sensor is averaged for each face."""


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
            # A switch cannot tell a broken wire from one of its positions.
            quantities = [binding.channel.quantity for binding in self.installation.bindings]
            return [str(quantity) for quantity in quantities if quantity is not Quantity.PLATE_IN]
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
                return [self._interrupted(trial, subject, [Quantity(subject)], self._reason_of_wire(subject))]
            case Trial.UNPLUG:
                on_bus = [b.channel.quantity for b in self.installation.bindings if b.bus == subject]
                return [self._interrupted(trial, subject, on_bus, lambda _reason: True)]
            case Trial.POWER_DIP:
                return [self._power_dip()]

    def _watch(self, seconds: float, is_enough: Callable[[Watched], bool] = until_the_end) -> Watched:
        return watch(self.installation, seconds, is_enough)

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
            stroke = StrokeWatch()
            self._watch(self.seconds, stroke.is_over)
            plateau = stroke.plateau
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
        found = release_lag(self._watch(2 * self.seconds).samples)
        if found is None:
            note = "no pressure held for 3 s and let go at one go was seen"
            return [TrialResult(trial=Trial.LAG, outcome=Outcome.FAILED, note=note)]
        figures = {"lag_s": found.lag_s, "standard_uncertainty_s": found.u_s}
        note = f"releases: {found.releases}"
        return [TrialResult(trial=Trial.LAG, outcome=Outcome.MEASURED, figures=figures, note=note)]

    def _leak_down(self) -> list[TrialResult]:
        text = ask("  Leak-down before the sensors were fitted, bar/min (empty: not known)")
        before = float(text) if text else None
        pairs = _pairs(self._watch(self.leak_seconds).samples)
        return [leak_down_result([t_s for t_s, _ in pairs], [bar for _, bar in pairs], before)]

    def _plate(self) -> list[TrialResult]:
        instrument = ask("  Contact thermometer and its serial")
        if not instrument:
            raise ValueError("a reading needs its instrument")
        results = []
        for face in ("a", "b"):
            text = ask(f"  Face {face}, °C at each point, parted by blanks")
            readings = [float(part) for part in text.replace(",", " ").split()]
            if len(readings) < LEAST_POINTS:
                raise ValueError(f"{LEAST_POINTS} points are needed at least, round the middle of the face")
            samples = self._watch(min(self.seconds, PLATE_S)).samples
            values = [s.plate_temperature_degC for s in samples if s.plate_temperature_degC is not None]
            if not values:
                raise ValueError("the built-in sensor gave no reading")
            results.append(plate_result(face, readings, fmean(values), instrument))
        return results

    def _reason_of_wire(self, subject: str) -> Callable[[str], bool]:
        """Tell which reasons can be a wire's: a Modbus device answers all the same, a text may lack it."""
        of = next(b for b in self.installation.bindings if b.channel.quantity == subject)
        return lambda reason: reason != GAP or not isinstance(of.point, ModbusPoint)

    def _interrupted(
        self, trial: Trial, subject: str, quantities: list[Quantity], counts: Callable[[str], bool]
    ) -> TrialResult:
        def all_of(seen: Watched) -> list[tuple[Quantity, Interruption]]:
            return [
                (quantity, one)
                for quantity, one in self._all_interruptions(seen)
                if quantity in quantities and counts(one.reason)
            ]

        def is_over(seen: Watched) -> bool:
            return {q for q, one in all_of(seen) if one.to_s is not None}.issuperset(quantities)

        found = [one for _, one in all_of(self._watch(self.seconds, is_over))]
        if not found:
            note = UNNOTICED[trial]
            return TrialResult(trial=trial, subject=subject, outcome=Outcome.FAILED, note=note)
        longest = max(found, key=lambda one: float("inf") if one.to_s is None else one.to_s - one.from_s)
        outcome = Outcome.FAILED if longest.to_s is None else Outcome.PASSED
        figures = {} if longest.to_s is None else {"away_s": longest.to_s - longest.from_s}
        note = interruption_text(longest)
        return TrialResult(trial=trial, subject=subject, outcome=outcome, figures=figures, note=note)

    def _power_dip(self) -> TrialResult:
        seen = self._watch(self.seconds)
        found = list(self._all_interruptions(seen))
        if not all(seen.seen.values()):
            note = "not every channel gave readings"
            return TrialResult(trial=Trial.POWER_DIP, outcome=Outcome.FAILED, note=note)
        note = "; ".join(f"{quantity}: {interruption_text(one)}" for quantity, one in found)
        outcome = Outcome.FAILED if found else Outcome.PASSED
        return TrialResult(trial=Trial.POWER_DIP, outcome=outcome, note=note or "no reading was lost")

    def _all_interruptions(self, seen: Watched) -> Iterator[tuple[Quantity, Interruption]]:
        for channel in self.installation.rig.channels:
            for one in interruptions(seen.seen[channel.quantity], channel.rate_hz, seen.until_s):
                yield channel.quantity, one


def _pairs(samples: list[Sample]) -> list[tuple[float, float]]:
    return [(s.t_s, s.pressure_bar) for s in samples if s.pressure_bar is not None]
