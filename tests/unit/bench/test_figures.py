"""The benchmark's arithmetic on numbers worked out by hand."""

import math

import pytest

from tests.bench.figures import Placed, accuracy, quantile, wilson


def test_wilson_bounds_of_five_in_ten():
    # By hand: k2 = 3.8416, middle = 0.5, half = 1.96 / 1.38416 * sqrt(0.025 + 0.009604) = 0.26340.
    low, high = wilson(5, 10)
    assert low == pytest.approx(0.23660, abs=1e-4)
    assert high == pytest.approx(0.76340, abs=1e-4)


def test_wilson_bounds_at_the_ends():
    # 0 of n: the upper bound is k2 / (n + k2).
    low, high = wilson(0, 100)
    assert low == 0.0
    assert high == pytest.approx(3.8416 / 103.8416, rel=1e-9)
    assert wilson(100, 100)[0] == pytest.approx(100.0 / 103.8416, rel=1e-9)
    assert wilson(0, 0) == (0.0, 1.0)


def test_coverage_counts_errors_within_k_times_the_stated_uncertainty():
    # |error| / u: 1.0, 1.7, 2.0, 3.0, and one without a stated uncertainty.
    errors = [(0.05, 0.05), (-0.17, 0.10), (0.40, 0.20), (-0.30, 0.10), (0.01, None)]
    found = accuracy([Placed(error, u) for error, u in errors])
    assert found.coverage == {90: 1 / 5, 95: 2 / 5, 99: 4 / 5}


def test_shares_bias_and_quantile():
    found = accuracy([Placed(error, 1.0) for error in (-0.10, 0.05, 0.15, 0.20, 0.90)])
    assert found.n == 5
    assert found.within_01 == pytest.approx(2 / 5)
    assert found.within_02 == pytest.approx(4 / 5)
    assert found.bias_s == 0.15
    assert found.p95_s == 0.90


def test_nothing_placed_gives_no_figures():
    found = accuracy([])
    assert found.n == 0
    assert math.isnan(found.within_02)
    assert math.isnan(found.coverage[95])


@pytest.mark.parametrize(
    ("share", "value"), [(0.0, 1.0), (0.05, 1.0), (0.5, 10.0), (0.95, 19.0), (1.0, 20.0)]
)
def test_quantile_is_the_smallest_value_with_that_share_at_or_below(share, value):
    assert quantile([float(n) for n in range(20, 0, -1)], share) == value
