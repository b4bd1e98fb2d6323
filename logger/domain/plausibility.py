"""Whether a reading can be what its sensor means: marks, never repaired values. Pure but for its memory.

Levels of a 4-20 mA signal after NAMUR NE 43: information from 3.8 to 20.5 mA, failure at 3.6 mA or less and
at 21 mA or more (seen, in restatements); between them the state before holds (from memory).
"""

import math
from functools import lru_cache
from typing import Self

from logger.domain.channel import Channel, CurrentLoop, Quality

LOOP_FAILED_LOW_MA, LOOP_LEAST_MA = 3.6, 3.8
LOOP_GREATEST_MA, LOOP_FAILED_HIGH_MA = 20.5, 21.0
_ROUNDING_MA = 1e-9
APART_S = 1.0
"""So long two sensors must be apart before they disagree: they are read one after the other (a choice)."""
_FRESH_PERIODS = 3.0
_NUMBERS_KNOWN = 1024
"""Of each channel, what the latest of them mean: most of a curve is made of few numbers."""


class Watch:
    """Marks the readings of one channel in their order; what nobody declared of its sensor is not examined.

    `good_value` is the latest reading that may be used, made at `good_t_s`; both are None before the first.
    """

    def __init__(self, channel: Channel) -> None:
        self._channel = channel
        self._meaning_of = lru_cache(_NUMBERS_KNOWN)(self._meaning)
        self._remembers = any(
            declared is not None
            for declared in (channel.max_change_per_s, channel.stuck_after_s, channel.agrees_within)
        )
        self.good_t_s: float | None = None
        self.good_value: float | None = None
        self._loop = Quality.GOOD
        self._raw: int | None = None
        self._same_since_s = 0.0
        self._apart_since_s: float | None = None

    def mark(self, t_s: float, raw: int, second: Self | None) -> Quality:
        """Return whether the reading `raw` may be used; then it is the good one.

        `second` watches the channel's second sensor, None without one.
        """
        value, quality, loop = self._meaning_of(raw)
        if loop is not None:
            self._loop = loop
        if self._loop is not Quality.GOOD and quality is not Quality.NOT_A_NUMBER:
            quality = self._loop
        if self._remembers:
            before = self._against_before(t_s, value, raw, second)
            quality = before if quality is Quality.GOOD else quality
        if quality is Quality.GOOD:
            self.good_t_s, self.good_value = t_s, value
        return quality

    def _meaning(self, raw: int) -> tuple[float, Quality, Quality | None]:
        """What a number says by itself: value, mark, and the state of the loop, None where it tells none."""
        channel = self._channel
        value = channel.scaling.value_of(raw)
        if math.isnan(value):
            return value, Quality.NOT_A_NUMBER, None
        is_low = channel.valid_min is not None and value < channel.valid_min
        is_high = channel.valid_max is not None and value > channel.valid_max
        quality = Quality.OUT_OF_RANGE if is_low or is_high else Quality.GOOD
        return value, quality, None if channel.loop is None else _loop_state(channel.loop, value)

    def _against_before(self, t_s: float, value: float, raw: int, second: Self | None) -> Quality:
        """Hold a reading against those before it and against the second sensor."""
        channel = self._channel
        if raw != self._raw:
            self._raw, self._same_since_s = raw, t_s
        self._apart_since_s = self._apart_since(t_s, value, second)
        if self._is_too_fast(t_s, value):
            return Quality.TOO_FAST
        if channel.stuck_after_s is not None and t_s - self._same_since_s >= channel.stuck_after_s:
            return Quality.STUCK
        if self._apart_since_s is not None and t_s - self._apart_since_s >= APART_S:
            return Quality.DISAGREES
        return Quality.GOOD

    def _is_too_fast(self, t_s: float, value: float) -> bool:
        """What is allowed grows with the time since the last good reading: a real step is believed again."""
        channel = self._channel
        if channel.max_change_per_s is None or self.good_t_s is None or self.good_value is None:
            return False
        allowed = channel.max_change_per_s * (t_s - self.good_t_s) + channel.resolution
        return abs(value - self.good_value) > allowed

    def _apart_since(self, t_s: float, value: float, second: Self | None) -> float | None:
        channel = self._channel
        if channel.agrees_within is None or second is None:
            return None
        if second.good_t_s is None or second.good_value is None:
            return None
        if t_s - second.good_t_s > _FRESH_PERIODS / channel.rate_hz + APART_S:
            return None
        if abs(value - second.good_value) <= channel.agrees_within:
            return None
        return t_s if self._apart_since_s is None else self._apart_since_s


def _loop_state(loop: CurrentLoop, value: float) -> Quality | None:
    """The state that a current tells, None between the bands, where the one before holds."""
    current_mA = loop.current_mA(value)
    if current_mA <= LOOP_FAILED_LOW_MA + _ROUNDING_MA:
        return Quality.LOOP_LOW
    if current_mA >= LOOP_FAILED_HIGH_MA - _ROUNDING_MA:
        return Quality.LOOP_HIGH
    is_defined = LOOP_LEAST_MA - _ROUNDING_MA <= current_mA <= LOOP_GREATEST_MA + _ROUNDING_MA
    return Quality.GOOD if is_defined else None
