"""Whether the faces part where they must not, by the opening between them. Pure.

Provisional, with a carriage position only; the recorder judges the whole curve.
"""

from logger.domain.phase import Phase

APART_MM = 1.0
"""Faces that move apart by more have parted (a choice; the recorder judges by the same)."""
_ANEW = (Phase.BEAD_UP, Phase.HEAT_SOAK, None)


class Faces:
    """In the soak, and once they have touched behind it, the faces only come closer."""

    def __init__(self) -> None:
        self._closest_mm: float | None = None
        self._widest_mm = 0.0
        self._have_touched = False

    def enter(self, before: Phase | None, phase: Phase | None) -> float:
        """A phase follows another: how far a changeover that was none, but soak again, had parted them."""
        parted_mm = 0.0
        if (before, phase) == (Phase.CHANGEOVER, Phase.HEAT_SOAK) and self._closest_mm is not None:
            parted_mm = _beyond(self._widest_mm - self._closest_mm)
        if phase in _ANEW:
            self._closest_mm, self._widest_mm, self._have_touched = None, 0.0, False
        return parted_mm

    def apart_mm(self, phase: Phase, opening_mm: float) -> float:
        """How far they are apart that had been closer, 0 where that is as it should be."""
        if phase is Phase.BEAD_UP:
            return 0.0
        # A closing stroke against drag nobody confirmed passes for the build-up before the faces meet.
        if phase is not Phase.HEAT_SOAK and not self._have_touched and opening_mm > APART_MM:
            self._widest_mm = max(self._widest_mm, opening_mm)
            return 0.0
        self._have_touched |= phase is not Phase.HEAT_SOAK
        closest_mm = self._closest_mm
        self._closest_mm = opening_mm if closest_mm is None else min(closest_mm, opening_mm)
        return _beyond(opening_mm - self._closest_mm)


def _beyond(apart_mm: float) -> float:
    return apart_mm if apart_mm > APART_MM else 0.0
