"""An excursion is one of the noise-free curve: noise, ripple and spikes make none, a real one does."""

import math
import random

import pytest

from logger.judge.excursions import Smooth, beyond, smoothed
from logger.phases.series import Series
from tests.drawn import remembering_noise

LOW, HIGH = 26.5, 29.5


def held(level_bar=28.0, *, seconds=120.0, rate_hz=10.0, sigma=0.1, seed=1) -> Series:
    rng = random.Random(seed)
    count = int(seconds * rate_hz)
    values = tuple(level_bar + rng.gauss(0.0, sigma) for _ in range(count))
    return Series(tuple(k / rate_hz for k in range(count)), values)


def changed(series: Series, from_s: float, to_s: float, by_bar: float) -> Series:
    values = (v + by_bar if from_s <= t < to_s else v for t, v in zip(series.t_s, series.values, strict=True))
    return Series(series.t_s, tuple(values))


@pytest.mark.parametrize(("rate_hz", "inside_bar"), [(1.0, 0.6), (5.0, 0.02), (10.0, 0.02), (50.0, 0.02)])
@pytest.mark.parametrize("edge", [LOW, HIGH])
def test_noise_at_the_limit_makes_no_excursion(edge, rate_hz, inside_bar):
    """Once a second there is nothing to average: two standard deviations of room are needed there."""
    level_bar = edge + (inside_bar if edge == LOW else -inside_bar)
    for seed in range(20):
        smooth = smoothed(held(level_bar, rate_hz=rate_hz, sigma=0.3, seed=seed))
        assert beyond(smooth, low=LOW) == ()
        assert beyond(smooth, high=HIGH) == ()


def damped(level_bar: float, *, rate_hz: float, seconds: float, seed: int, sigma: float = 0.3) -> Series:
    """Noise of a transmitter that damps: it remembers itself over 0.13 s."""
    count = int(seconds * rate_hz)
    noise = remembering_noise(random.Random(seed), count, rate_hz=rate_hz, memory_s=0.13, sigma=sigma)
    return Series(tuple(k / rate_hz for k in range(count)), tuple(level_bar + bar for bar in noise))


@pytest.mark.parametrize(
    ("rate_hz", "seconds", "inside_bar"), [(20.0, 60.0, 0.3), (50.0, 60.0, 0.3), (50.0, 6.0, 0.3)]
)
def test_noise_that_remembers_itself_makes_no_excursion(rate_hz, seconds, inside_bar):
    """One of its standard deviations inside the band: averages of a second scatter by half of one."""
    for seed in range(20):
        smooth = smoothed(damped(HIGH - inside_bar, rate_hz=rate_hz, seconds=seconds, seed=seed))
        assert beyond(smooth, high=HIGH) == ()


def test_the_first_median_of_a_stretch_is_given_more_room():
    """Two readings make it where three make the others: what the noise leaves is wider by their root."""
    smooth = Smooth(held(sigma=0.3), 0.1, 3)
    assert smooth.margin(0) == pytest.approx(smooth.margin(60) * math.sqrt(3 / 2))
    assert smooth.margin(len(smooth.series) - 1) == smooth.margin(0)


def test_few_readings_have_the_noise_of_the_whole_trace():
    """A bead-up of six seconds once a second does not tell how it scatters."""
    few = held(HIGH - 0.3, seconds=6.0, rate_hz=1.0, sigma=0.3, seed=3)
    assert max(few.values) > HIGH
    assert beyond(smoothed(few), high=HIGH) != ()
    assert beyond(smoothed(few, noise=0.3), high=HIGH) == ()


def test_ripple_of_the_pump_makes_no_excursion():
    quiet = held(29.3, rate_hz=50.0, sigma=0.02)
    waves = tuple(
        v + 0.5 * math.sin(2 * math.pi * 7.3 * t) for t, v in zip(quiet.t_s, quiet.values, strict=True)
    )
    assert beyond(smoothed(Series(quiet.t_s, waves)), high=HIGH) == ()


@pytest.mark.parametrize("count", [1, 2, 4])
def test_spikes_make_no_excursion(count):
    spiky = changed(held(), 50.0, 50.0 + count / 10 - 0.01, 20.0)
    assert beyond(smoothed(spiky), high=HIGH) == ()


@pytest.mark.parametrize(("by_bar", "limit"), [(3.0, {"high": HIGH}), (-3.0, {"low": LOW})])
@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0])
def test_a_real_one_is_found_with_its_times_and_its_extreme(by_bar, limit, rate_hz):
    (excursion,) = beyond(smoothed(changed(held(rate_hz=rate_hz), 50.0, 56.0, by_bar)), **limit)
    assert excursion.start_s == pytest.approx(50.0, abs=0.5)
    assert excursion.end_s == pytest.approx(56.0, abs=0.5)
    assert excursion.extreme == pytest.approx(28.0 + by_bar, abs=0.3)


def test_two_stretches_are_two_excursions():
    twice = changed(changed(held(), 20.0, 25.0, 3.0), 80.0, 90.0, 4.0)
    first, second = beyond(smoothed(twice), high=HIGH)
    assert first.duration_s < second.duration_s
    assert first.extreme < second.extreme


def test_an_excursion_may_last_to_the_end():
    (excursion,) = beyond(smoothed(changed(held(), 110.0, 121.0, -3.0)), low=LOW)
    assert excursion.end_s == pytest.approx(119.9)


def test_nothing_is_beyond_in_nothing():
    assert beyond(smoothed(Series((), ())), low=LOW, high=None) == ()
