"""A measured series that grows: what the curves are drawn from."""

import numpy as np
from numpy.typing import NDArray

from logger.domain.gap import longest_interval_s

Floats = NDArray[np.float64]

_FIRST = 4096


class Series:
    """Readings of one channel in the order of time, seconds on the joint's clock.

    A missing reading is left out. Appending is cheap; the arrays handed out are views that stay as they are.
    """

    def __init__(self) -> None:
        self._t_s: Floats = np.empty(_FIRST)
        self._value: Floats = np.empty(_FIRST)
        self._size = 0

    def __len__(self) -> int:
        return self._size

    @property
    def t_s(self) -> Floats:
        return self._t_s[: self._size]

    @property
    def value(self) -> Floats:
        return self._value[: self._size]

    def append(self, t_s: float, value: float) -> None:
        """Add a reading. One that is not later than the last is left out: it is drawn already."""
        if self._size and t_s <= self._t_s[self._size - 1]:
            return
        if self._size == len(self._t_s):
            self._t_s = np.concatenate((self._t_s, np.empty(self._size)))
            self._value = np.concatenate((self._value, np.empty(self._size)))
        self._t_s[self._size] = t_s
        self._value[self._size] = value
        self._size += 1

    def between(self, from_s: float, to_s: float) -> tuple[Floats, Floats]:
        """Readings inside, and one on each side so that a line may enter and leave."""
        t_s = self.t_s
        first = max(int(np.searchsorted(t_s, from_s)) - 1, 0)
        last = int(np.searchsorted(t_s, to_s, side="right")) + 1
        return t_s[first:last], self.value[first:last]

    def gap_s(self) -> float:
        """An interval longer than this is a gap."""
        recent = np.diff(self.t_s[-600:])
        return longest_interval_s(float(np.median(recent)) if len(recent) else 0.0)
