"""Fewer samples of a long curve, so that a screen can draw it: some are left out, none is made."""

from collections.abc import Callable, Sequence

from logger.domain.sample import Sample

_EXTREMES_PER_STRETCH = 4
_VALUES: tuple[Callable[[Sample], float | None], ...] = (
    lambda sample: sample.pressure_bar,
    lambda sample: sample.plate_temperature_degC,
)


def thinned(samples: Sequence[Sample], points: int) -> list[Sample]:
    """Return at most about `points` samples: the ends, and of each stretch those with the extreme readings.

    Least and greatest pressure and plate temperature of every stretch are kept, so no spike is lost.
    """
    if len(samples) <= points:
        return list(samples)
    stretches = max(1, (points - 2) // _EXTREMES_PER_STRETCH)
    kept = {0, len(samples) - 1}
    for stretch in range(stretches):
        begin = stretch * len(samples) // stretches
        end = (stretch + 1) * len(samples) // stretches
        for value in _VALUES:
            read = [(found, k) for k in range(begin, end) if (found := value(samples[k])) is not None]
            if read:
                kept |= {min(read)[1], max(read)[1]}
    return [samples[k] for k in sorted(kept)]
