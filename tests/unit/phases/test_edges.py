"""Pieces, knees, steps and crossings on lines whose bends are known."""

import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.phases.edges import crossing, fit_knee, pieces_of
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


def test_three_lines_are_three_pieces():
    pieces = pieces_of(line([(0, 1.0), (5, 1.0), (8, 16.0), (15, 16.0)], sigma=NOISE), NOISE)
    assert len(pieces) == 3
    flat, ramp, top = pieces
    assert (flat.slope, ramp.slope, top.slope) == (
        pytest.approx(0.0, abs=0.05), pytest.approx(5.0, abs=0.2), pytest.approx(0.0, abs=0.05)
    )  # fmt: skip
    assert (flat.end_s, ramp.end_s) == (pytest.approx(5.0, abs=0.2), pytest.approx(8.0, abs=0.2))


def test_one_noisy_line_is_one_piece():
    assert len(pieces_of(line([(0, 3.0), (30, 3.0)], sigma=NOISE), NOISE)) == 1


@given(
    knee_s=st.floats(3.0, 7.0),
    slope=st.floats(1.0, 30.0),
    level=st.floats(-5.0, 50.0),
    rate_hz=st.sampled_from([5.0, 10.0, 50.0]),
)
@settings(max_examples=60, deadline=None)
def test_a_noise_free_knee_is_found_within_a_grid_step(knee_s, slope, level, rate_hz):
    corners = [(0.0, level), (knee_s, level), (10.0, level + slope * (10.0 - knee_s))]
    knee = fit_knee(line(corners, rate_hz), (knee_s - 1.0, knee_s + 1.0), 0.0)
    assert knee is not None
    assert knee.at_s == pytest.approx(knee_s, abs=0.5 / rate_hz)
    assert knee.u_s >= 1.0 / rate_hz / 12**0.5 - 1e-12


def test_the_knee_of_a_noisy_bend_is_inside_its_uncertainty():
    """Over 200 seeds: no bias, and few errors beyond three of the stated uncertainties."""
    errors = []
    for seed in range(200):
        series = line([(0, 8.0), (5.02, 8.0), (10, 28.0)], sigma=0.2, seed=seed)
        knee = fit_knee(series, (4.0, 6.0), 0.2)
        assert knee is not None
        errors.append((knee.at_s - 5.02, knee.u_s))
    assert sum(e for e, _ in errors) / len(errors) == pytest.approx(0.0, abs=0.02)
    assert sum(abs(e) > 3 * u for e, u in errors) <= 4


def test_too_few_readings_give_no_knee():
    assert fit_knee(line([(0, 1.0), (0.3, 1.0)]), (0.0, 0.3), NOISE) is None


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
