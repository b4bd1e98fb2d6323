"""The opening stroke as a line-side gauge shows it: a pulse that stands out above soak and neutral alike."""

from dataclasses import dataclass
from math import sqrt

from logger.phases.edges import Knee
from logger.phases.series import Series

STANDS_OUT_SIGMAS = 8.0
STANDS_OUT_SHARE = 0.15
"""Of what soak and neutral are apart: what stands no higher than that above both is no pulse."""
BEGUN_SIGMAS = 4.0
BEGUN_SHARE = 0.04
"""Of the pulse: so far above soak level it has begun. It may go up in two steps, travel and stop."""
DROP_SHARE = 0.15
"""Of the soak level: a fall by more than that before the pulse is a let-off. All of these are choices."""


@dataclass(frozen=True)
class OpeningPulse:
    """From when on the pulse shows and when it is highest; whether the pressure was let off just before."""

    begun_s: float
    peak_s: float
    peak_bar: float
    let_off: bool

    @property
    def pulled_free(self) -> Knee:
        """Faces that stick part between the letting off and the pulse's peak at the latest."""
        return Knee((self.begun_s + self.peak_s) / 2, (self.peak_s - self.begun_s) / sqrt(12))


def opening_pulse(near: Series, soak_bar: float, shut_bar: float, noise: float) -> OpeningPulse | None:
    """Look for the pulse in smoothed readings around the opening.

    Args:
        near: smoothed readings around the place where the soak level was left.
        soak_bar: level before.
        shut_bar: level after, with the valve in neutral.
        noise: standard deviation of the smoothed readings in bar.
    """
    if not len(near):
        return None
    peak = max(range(len(near)), key=lambda k: near.values[k])
    out_bar = near.values[peak] - max(soak_bar, shut_bar)
    if out_bar < max(STANDS_OUT_SIGMAS * noise, STANDS_OUT_SHARE * abs(soak_bar - shut_bar)):
        return None
    least_bar = max(BEGUN_SIGMAS * noise, BEGUN_SHARE * (near.values[peak] - soak_bar))
    begun = next((k for k in range(peak, -1, -1) if near.values[k] <= soak_bar + least_bar), None)
    if begun is None:
        return None
    low = min(range(peak + 1), key=lambda k: near.values[k])
    if soak_bar - near.values[low] <= max(STANDS_OUT_SIGMAS * noise, DROP_SHARE * soak_bar):
        return OpeningPulse(near.t_s[begun], near.t_s[peak], near.values[peak], let_off=False)
    dropped = next((k for k in range(low, -1, -1) if near.values[k] >= soak_bar - BEGUN_SIGMAS * noise), 0)
    return OpeningPulse(near.t_s[dropped], near.t_s[peak], near.values[peak], let_off=True)
