"""The time table of one request: slots at absolute times, the missed ones counted. Pure."""

import math

_SLACK = 1e-6  # of a slot, against rounding


class Cadence:
    """Slots at `start_s`, `start_s` + 1/rate and so on, in seconds of any clock: an error never adds up."""

    def __init__(self, start_s: float, rate_hz: float) -> None:
        self._start_s = start_s
        self._rate_hz = rate_hz
        self._slot = 0

    @property
    def due_s(self) -> float:
        """When the current slot begins."""
        return self._start_s + self._slot / self._rate_hz

    def advance(self, now_s: float) -> int:
        """Leave the current slot for the next that has not begun; return how many were missed between."""
        first_open = math.ceil((now_s - self._start_s) * self._rate_hz - _SLACK)
        following = max(self._slot + 1, first_open)
        missed = following - (self._slot + 1)
        self._slot = following
        return missed
