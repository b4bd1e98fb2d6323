"""Crossings of a level on lines whose bends are known."""

import random
from itertools import pairwise

import pytest

from logger.phases.edges import crossing
from logger.phases.series import Series

NOISE = 0.05


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
    knee = crossing(ramp, 26.0, (4.0, 20.0), NOISE)
    assert knee is not None
    assert knee.at_s == pytest.approx(9.5, abs=0.05)


def test_a_level_that_is_never_reached_is_not_crossed():
    ramp = line([(0, 8.0), (5, 8.0), (10, 28.0), (20, 28.0)], sigma=NOISE)
    assert crossing(ramp, 30.0, (4.0, 20.0), NOISE) is None


def test_a_spike_crosses_nothing():
    values = [8.0] * 200
    values[100] = 60.0
    assert (
        crossing(Series(tuple(k / 10 for k in range(200)), tuple(values)), 26.0, (0.0, 20.0), NOISE) is None
    )
