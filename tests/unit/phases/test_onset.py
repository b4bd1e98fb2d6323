"""The onset of a change behind a lag that nobody told: where it began, not where it shows."""

import random
from math import exp

import pytest

from logger.phases.onset import ANY_LAG, LAGS_S, Before, delay_of, fit_onset, pooled_lags
from logger.phases.series import Series

ONSET_S = 4.03
NOISE = 0.05
BEFORE = Before(drift_per_s=0.05)


def lagged_ramp(lag_s: float, *, sigma: float = NOISE, seed: int = 1) -> Series:
    """A ramp of 6 per second from `ONSET_S` on through a first-order lag, in closed form, at 10 Hz."""
    rng = random.Random(seed)
    times = tuple(k / 10 for k in range(52))

    def value(t_s: float) -> float:
        x = t_s - ONSET_S
        return 0.0 if x <= 0 else 6.0 * (x - lag_s * (1 - exp(-x / lag_s)))

    return Series(times, tuple(8.0 + value(t) + rng.gauss(0.0, sigma) for t in times))


def test_a_step_between_two_readings_lies_between_them():
    series = Series(tuple(k / 10 for k in range(100)), tuple([1.0] * 50 + [9.0] * 50))
    onset = fit_onset(series, (4.0, 6.0), NOISE, BEFORE)
    assert onset is not None
    assert 4.85 <= onset.knee.at_s <= 5.0
    assert onset.knee.u_s >= 0.1 / 12**0.5 * 0.999


@pytest.mark.parametrize("lag_s", [0.05, 0.15, 0.3])
def test_a_lag_does_not_move_the_onset(lag_s):
    errors = []
    for seed in range(40):
        onset = fit_onset(lagged_ramp(lag_s, seed=seed), (3.2, 4.8), NOISE, BEFORE)
        assert onset is not None
        errors.append((onset.knee.at_s - ONSET_S, onset.knee.u_s))
    assert sum(e for e, _ in errors) / len(errors) == pytest.approx(0.0, abs=0.05)
    assert sum(abs(e) > 2.6 * u for e, u in errors) <= 4


def test_ramps_tell_a_long_lag_from_a_short_one():
    told = {
        lag_s: delay_of(
            pooled_lags(fit_onset(lagged_ramp(lag_s, seed=s), (3.2, 4.8), NOISE, BEFORE) for s in (1, 2))
        )
        for lag_s in (0.05, 0.4)
    }
    assert told[0.4][0] > told[0.05][0] + 0.1


def test_before_anything_is_known_every_lag_is_possible_and_long_ones_are_rarer():
    assert sum(ANY_LAG) == pytest.approx(1.0)
    assert list(ANY_LAG) == sorted(ANY_LAG, reverse=True)
    assert len(ANY_LAG) == len(LAGS_S)
    assert pooled_lags([None]) == pytest.approx(ANY_LAG, abs=0.02)


def test_too_few_readings_give_no_onset():
    assert fit_onset(Series((0.0, 0.1), (1.0, 2.0)), (0.0, 0.1), NOISE, BEFORE) is None
