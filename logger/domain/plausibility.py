"""Whether a reading can be what its sensor means: marks, never repaired values. Pure.

Levels of a 4-20 mA signal after NAMUR NE 43: information from 3.8 to 20.5 mA, failure at 3.6 mA or less and
at 21 mA or more (seen, in restatements); between them the state before holds (from memory).
"""

import math
from dataclasses import dataclass

from logger.domain.channel import Channel, CurrentLoop, Quality

LOOP_FAILED_LOW_MA, LOOP_LEAST_MA = 3.6, 3.8
LOOP_GREATEST_MA, LOOP_FAILED_HIGH_MA = 20.5, 21.0
_ROUNDING_MA = 1e-9
APART_S = 1.0
"""So long two sensors must be apart before they disagree: they are read one after the other (a choice)."""
_FRESH_PERIODS = 3.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of a channel at its time in seconds."""

    t_s: float
    value: float


@dataclass(frozen=True, slots=True)
class Watch:
    """What is remembered of a channel from reading to reading."""

    last_good: Reading | None = None
    loop: Quality = Quality.GOOD
    raw: int | None = None
    same_since_s: float = 0.0
    apart_since_s: float | None = None


UNWATCHED = Watch()
"""Before the first reading."""


def assessed(
    channel: Channel, watch: Watch, now: Reading, raw: int, second: Reading | None
) -> tuple[Watch, Quality]:
    """Return the watch after a reading, and whether the reading may be used.

    Args:
        channel: with what was declared of its sensor; what was not is not examined.
        watch: after the reading before.
        now: the scaled reading, NaN where the device sent no number.
        raw: the same as it came.
        second: the latest usable reading of the channel's second sensor, None without one.
    """
    since_s = now.t_s if raw != watch.raw else watch.same_since_s
    loop = watch.loop if channel.loop is None else _loop_state(channel.loop, watch.loop, now.value)
    apart_s = _apart_since(channel, watch, now, second)
    quality = _quality(channel, watch.last_good, now, (loop, since_s, apart_s))
    good = now if quality is Quality.GOOD else watch.last_good
    return Watch(good, loop, raw, since_s, apart_s), quality


def _quality(
    channel: Channel, last_good: Reading | None, now: Reading, state: tuple[Quality, float, float | None]
) -> Quality:
    """`state` is that of the loop, since when the raw value is the same, since when two sensors are apart."""
    loop, same_since_s, apart_since_s = state
    if math.isnan(now.value):
        return Quality.NOT_A_NUMBER
    if loop is not Quality.GOOD:
        return loop
    if _is_out_of_range(channel, now.value):
        return Quality.OUT_OF_RANGE
    if _is_too_fast(channel, last_good, now):
        return Quality.TOO_FAST
    if channel.stuck_after_s is not None and now.t_s - same_since_s >= channel.stuck_after_s:
        return Quality.STUCK
    if apart_since_s is not None and now.t_s - apart_since_s >= APART_S:
        return Quality.DISAGREES
    return Quality.GOOD


def _loop_state(loop: CurrentLoop, before: Quality, value: float) -> Quality:
    if math.isnan(value):
        return before
    current_mA = loop.current_mA(value)
    if current_mA <= LOOP_FAILED_LOW_MA + _ROUNDING_MA:
        return Quality.LOOP_LOW
    if current_mA >= LOOP_FAILED_HIGH_MA - _ROUNDING_MA:
        return Quality.LOOP_HIGH
    is_undefined = not LOOP_LEAST_MA - _ROUNDING_MA <= current_mA <= LOOP_GREATEST_MA + _ROUNDING_MA
    return before if is_undefined else Quality.GOOD


def _is_out_of_range(channel: Channel, value: float) -> bool:
    low = channel.valid_min is not None and value < channel.valid_min
    high = channel.valid_max is not None and value > channel.valid_max
    return low or high


def _is_too_fast(channel: Channel, before: Reading | None, now: Reading) -> bool:
    """What is allowed grows with the time since the last good reading, so a real change is believed again."""
    if channel.max_change_per_s is None or before is None:
        return False
    allowed = channel.max_change_per_s * (now.t_s - before.t_s) + channel.resolution
    return abs(now.value - before.value) > allowed


def _apart_since(channel: Channel, watch: Watch, now: Reading, second: Reading | None) -> float | None:
    if channel.agrees_within is None or second is None:
        return None
    if now.t_s - second.t_s > _FRESH_PERIODS / channel.rate_hz + APART_S:
        return None
    if abs(now.value - second.value) <= channel.agrees_within:
        return None
    return now.t_s if watch.apart_since_s is None else watch.apart_since_s
