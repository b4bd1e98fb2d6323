"""What the boundary fits look at, prepared once per trace."""

from dataclasses import dataclass
from math import sqrt

from logger.domain.rig import GaugeSide
from logger.phases.levels import Hints, Levels
from logger.phases.series import Series, Trace, averaged_noise, without_spikes

SPIKE_SIGMAS = 6.0
DRIFT = 0.01
AVERAGED_S = 0.25
REMEMBERS = 1.25
"""Averages that scatter by more than so many times what independent readings would are believed: choices."""


@dataclass(frozen=True)
class View:
    """What the boundary fits look at: pressure without spikes, its noise, and what is known beforehand."""

    trace: Trace
    pressure: Series
    noise: float
    levels: Levels
    hints: Hints
    gauge_side: GaugeSide

    @property
    def drift_bar_per_s(self) -> float:
        """How fast a held pressure may wander: leak-down, top-ups, a creeping plateau."""
        return DRIFT * self.levels.step_bar


def view_of(trace: Trace, levels: Levels, hints: Hints, gauge_side: GaugeSide) -> View:
    """Prepare the pressure for fitting; the record itself keeps every reading."""
    noise = _noise_of(trace.pressure)
    threshold = max(SPIKE_SIGMAS * noise, 0.05 * levels.step_bar)
    return View(trace, without_spikes(trace.pressure, threshold), noise, levels, hints, gauge_side)


def _noise_of(pressure: Series) -> float:
    """Noise of one reading such that averages over a quarter of a second scatter as they do."""
    readings = max(1, round(AVERAGED_S / pressure.interval_s)) if pressure.interval_s > 0 else 1
    of_means = averaged_noise(pressure, readings) * sqrt(readings)
    return of_means if of_means > REMEMBERS * pressure.noise else pressure.noise
