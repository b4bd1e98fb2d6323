"""What the boundary fits look at, prepared once per trace."""

from dataclasses import dataclass

from logger.domain.rig import GaugeSide
from logger.phases.levels import Hints, Levels
from logger.phases.series import Series, Trace, without_spikes

SPIKE_SIGMAS = 6.0
DRIFT = 0.01


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
    noise = trace.pressure.noise
    threshold = max(SPIKE_SIGMAS * noise, 0.05 * levels.step_bar)
    return View(trace, without_spikes(trace.pressure, threshold), noise, levels, hints, gauge_side)
