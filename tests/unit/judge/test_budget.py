"""Uncertainty budgets: what averaging leaves, what ripple takes back, what a channel declares."""

import math
import random

import pytest

from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.judgement import Boundary, PhaseSpan
from logger.domain.phase import Phase
from logger.domain.rig import Rig
from logger.judge.budget import duration_of, level_noise, mean_of, weighed_by
from logger.phases.series import Series


def readings(count: int, *, ripple_bar: float = 0.0, period: float = 40.0, sigma: float = 0.2, seed: int = 1):
    """White noise with a slow wave, as a pump's ripple looks once sampling has folded it down."""
    rng = random.Random(seed)
    phase = rng.random()
    return [
        20.0 + rng.gauss(0.0, sigma) + ripple_bar * math.sin(2 * math.pi * (k / period + phase))
        for k in range(count)
    ]


def test_white_noise_averages_by_the_root_of_its_readings():
    us, counts = zip(*(mean_of(readings(900, seed=seed))[1:] for seed in range(30)), strict=True)
    assert sum(us) / 30 == pytest.approx(0.2 / 30, rel=0.2)
    assert 500 < sum(counts) / 30 <= 950


def test_what_is_stated_is_what_means_scatter_by():
    """The mean of correlated readings, drawn again and again, against the uncertainty each draw states."""

    def drawn(seed: int) -> tuple[float, float]:
        rng, level, values = random.Random(seed), 0.0, []
        for _ in range(1_000):
            level = 0.95 * level + rng.gauss(0.0, 0.1)
            values.append(20.0 + level)
        mean, u, _ = mean_of(values)
        return mean, u

    means, us = zip(*(drawn(seed) for seed in range(200)), strict=True)
    scatter = math.sqrt(sum((mean - 20.0) ** 2 for mean in means) / len(means))
    assert math.sqrt(sum(u * u for u in us) / len(us)) == pytest.approx(scatter, rel=0.25)
    naive = 0.1 / math.sqrt(1 - 0.95**2) / math.sqrt(1_000)
    assert scatter > 4 * naive, "counting readings would have been wrong by so much"


def test_a_slow_ripple_leaves_few_independent_readings():
    _, white, _ = mean_of(readings(900))
    _, rippled, count = mean_of(readings(900, ripple_bar=0.5))
    assert rippled > 2 * white
    assert count < 400


def test_a_leak_down_is_no_scatter():
    falling = [x - 0.002 * k for k, x in enumerate(readings(900))]
    assert mean_of(falling)[1] == pytest.approx(mean_of(readings(900))[1], rel=0.02)


@pytest.mark.parametrize("values", [[5.0], [5.0, 5.0, 5.0, 5.0, 5.0]])
def test_what_does_not_scatter_has_no_scatter(values):
    assert mean_of(values)[:2] == (5.0, 0.0)


@pytest.mark.parametrize("ripple_bar", [0.0, 0.4])
def test_the_noise_of_a_level_is_no_less_than_levels_scatter_by(ripple_bar):
    """Means over ten seconds at 10 Hz; the ripple has a period of 0.7 s."""
    levels, stated = [], []
    for seed in range(60):
        values = readings(600, ripple_bar=ripple_bar, period=7.0, seed=seed)
        stated.append(level_noise(Series(tuple(k / 10 for k in range(600)), tuple(values)), 10.0))
        levels.append(sum(values[200:300]) / 100 - 20.0)
    scatter = math.sqrt(sum(level * level for level in levels) / len(levels))
    assert scatter < sum(stated) / len(stated) < 6 * scatter


def rig(u: float | None, resolution: float = 0.0, *, is_tolerance: bool = False) -> Rig:
    channel = Channel(
        quantity=Quantity.PRESSURE,
        scaling=Scaling(),
        standard_uncertainty=u,
        resolution=resolution,
        is_tolerance=is_tolerance,
    )
    return Rig(name="drawn", channels=(channel,))


def test_a_pressure_carries_calibration_quantisation_and_noise():
    held = weighed_by(rig(0.10, 0.04), Quantity.PRESSURE, 18.0, 0.36 / math.sqrt(20))
    expected = math.sqrt(0.10**2 + 0.04**2 / 12 + 0.36**2 / 20)
    assert held.standard_uncertainty == pytest.approx(expected)
    assert held.bound == 0.02


def test_a_tolerance_class_is_a_bound_and_an_uncertainty_is_none():
    bounded = weighed_by(rig(0.5, 0.1, is_tolerance=True), Quantity.PRESSURE, 18.0, 0.0)
    assert bounded.bound == pytest.approx(0.5 * math.sqrt(3))
    assert bounded.standard_uncertainty == pytest.approx(math.hypot(0.5, 0.1 / math.sqrt(12)))


@pytest.mark.parametrize("nobody", [None, rig(None), Rig(name="bare")])
def test_without_a_declared_uncertainty_the_value_stands_bare(nobody):
    assert weighed_by(nobody, Quantity.PRESSURE, 18.0, 0.5).standard_uncertainty == 0.0


@pytest.mark.parametrize(("u_s", "expected_s"), [(0.3, math.hypot(0.3, 0.4)), (None, 0.1 / math.sqrt(6))])
def test_a_duration_carries_both_boundaries_and_at_least_the_sampling(u_s, expected_s):
    span = PhaseSpan(
        phase=Phase.CHANGEOVER,
        start=Boundary(at_s=10.0, u_s=u_s),
        end=Boundary(at_s=15.0, u_s=None if u_s is None else 0.4),
    )
    measured = duration_of(span, 0.1)
    assert measured is not None
    assert (measured.value, measured.standard_uncertainty) == (5.0, pytest.approx(expected_s))
