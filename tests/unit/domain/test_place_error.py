"""The error of a place: Student's t with 3 degrees of freedom, scaled to a standard deviation of 1."""

from math import inf, sqrt

import pytest

from logger.domain.place_error import INTERVAL_K, chance_below, half_interval

T_TABLE = {90: 2.35, 95: 3.18, 99: 5.84}
"""JCGM 100:2008, table G.2, 3 degrees of freedom, from memory."""


@pytest.mark.parametrize("level", [90, 95, 99])
def test_intervals_are_those_of_the_t_table(level):
    assert INTERVAL_K[level] == pytest.approx(T_TABLE[level] / sqrt(3), abs=4e-3)
    inside = chance_below(INTERVAL_K[level]) - chance_below(-INTERVAL_K[level])
    assert inside == pytest.approx(level / 100, abs=2e-5)


def test_it_is_the_integral_of_the_density():
    """t with 3 degrees of freedom at t = z sqrt 3: density 2 / (pi (1 + z^2)^2) per z."""
    step = 1e-3
    for z in (-2.0, -0.3, 0.0, 1.0, 4.0):
        below = sum(2 / (3.141592653589793 * (1 + x * x) ** 2) * step for x in _middles(-60.0, z, step))
        assert chance_below(z) == pytest.approx(below, abs=1e-5)


def _middles(low, high, step):
    return (low + (k + 0.5) * step for k in range(round((high - low) / step)))


def test_nothing_is_below_everything_and_everything_is_below_nothing():
    assert (chance_below(-1e9), chance_below(1e9)) == (pytest.approx(0.0, abs=1e-9), pytest.approx(1.0))
    assert chance_below(0.0) == 0.5


def test_contributions_add_as_root_sum_of_squares_and_unknown_ones_not_at_all():
    assert half_interval(0.3, 0.4) == pytest.approx(0.5 * INTERVAL_K[95])
    assert half_interval(0.3, None) == pytest.approx(0.3 * INTERVAL_K[95])
    assert half_interval(None) == 0.0
    assert half_interval(inf) == inf
