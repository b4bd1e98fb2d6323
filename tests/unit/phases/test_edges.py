"""Crossings of a level on lines whose bends are known."""

import random
from itertools import pairwise
from math import exp

import pytest

from logger.phases.edges import crossing, variance_in_sums
from logger.phases.lag import TAU_S, Lag
from logger.phases.series import Series

NOISE = 0.05


def known(lag_s: float) -> Lag:
    """All the weight on the lag of the grid that is nearest."""
    nearest = min(TAU_S, key=lambda tau_s: abs(tau_s - lag_s))
    return Lag(tuple(float(tau_s == nearest) for tau_s in TAU_S))


NONE = known(0.0)


def line(corners, rate_hz=10.0, sigma=0.0, seed=1) -> Series:
    """Straight lines through (t_s, value) corners, sampled off the corners."""
    rng = random.Random(seed)
    end_s = corners[-1][0]
    times = [0.003 + k / rate_hz for k in range(int((end_s - 0.003) * rate_hz))]
    values = []
    for t in times:
        (t0, v0), (t1, v1) = next(p for p in pairwise(corners) if p[0][0] <= t <= p[1][0])
        values.append(v0 + (v1 - v0) * (t - t0) / (t1 - t0) + rng.gauss(0.0, sigma))
    return Series(tuple(times), tuple(values))


def test_the_level_is_crossed_where_the_ramp_reaches_it():
    ramp = line([(0, 8.0), (5, 8.0), (10, 28.0), (20, 28.0)], sigma=NOISE)
    knee = crossing(ramp, 26.0, (4.0, 20.0), NOISE, NONE)
    assert knee is not None
    assert knee.at_s == pytest.approx(9.5, abs=0.05)


def test_a_level_that_is_never_reached_is_not_crossed():
    ramp = line([(0, 8.0), (5, 8.0), (10, 28.0), (20, 28.0)], sigma=NOISE)
    assert crossing(ramp, 30.0, (4.0, 20.0), NOISE, NONE) is None


def test_a_spike_crosses_nothing():
    values = [8.0] * 200
    values[100] = 60.0
    spiked = Series(tuple(k / 10 for k in range(200)), tuple(values))
    assert crossing(spiked, 26.0, (0.0, 20.0), NOISE, NONE) is None


@pytest.mark.parametrize("rate_hz", [10.0, 50.0])
@pytest.mark.parametrize("lag_s", [0.1, 0.3, 0.7])
def test_a_level_shown_late_was_reached_before_even_where_the_curve_flattens_at_once(lag_s, rate_hz):
    """20 bar in 4 s from 5 s on, through a first-order lag in closed form; the level is reached at 8.6 s."""

    def ramp(since_s: float) -> float:
        return 5.0 * (since_s - lag_s * (1 - exp(-since_s / lag_s))) if since_s > 0 else 0.0

    for seed in range(10):
        rng = random.Random(seed)
        times = tuple(0.003 + k / rate_hz for k in range(int(20 * rate_hz)))
        values = tuple(8.0 + ramp(t - 5) - ramp(t - 9) + rng.gauss(0.0, NOISE) for t in times)
        knee = crossing(Series(times, values), 26.0, (5.0, 20.0), NOISE, known(lag_s), room=2.0)
        assert knee is not None
        assert knee.at_s == pytest.approx(8.6, abs=0.06 + 0.1 * lag_s)
        assert abs(knee.at_s - 8.6) < 3 * knee.u_s


def test_residuals_that_go_along_with_their_neighbours_say_less():
    rng = random.Random(4)
    white = [rng.gauss(0.0, 1.0) for _ in range(200)]
    kept = [white[0]]
    for fresh in white[1:]:
        kept.append(0.8 * kept[-1] + 0.6 * fresh)
    tone = [(-1.0) ** k for k in range(200)]
    assert variance_in_sums(white, 1.0) < 2.0
    assert variance_in_sums(kept, 1.0) > 3.0
    assert variance_in_sums(tone, 1.0) == pytest.approx(1.0, abs=0.1), "a fast tone cancels in sums"
