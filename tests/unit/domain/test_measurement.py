"""Rate, noise, ripple and steps of curves whose figures are known beforehand."""

import math
import random

import pytest

from logger.domain.live_check import ShortestLimit
from logger.domain.measurement import measure_of


def times(count: int, rate_hz: float = 10.0) -> list[float]:
    return [number / rate_hz for number in range(count)]


def test_white_noise_on_a_trend() -> None:
    draw = random.Random(5)
    t_s = times(2000)
    found = measure_of(t_s, [50 + 0.3 * t + draw.gauss(0, 0.2) for t in t_s])
    assert found.rate_hz == pytest.approx(10.0)
    assert found.noise == pytest.approx(0.2, rel=0.1)
    # From the 2.5 to the 97.5 % point of a normal distribution there are 3.92 standard deviations.
    assert found.ripple == pytest.approx(3.92 * 0.2, rel=0.1)
    assert found.mean == pytest.approx(50 + 0.3 * 99.95, abs=0.05)


def test_a_slow_swing_is_ripple_and_not_noise() -> None:
    """0.5 bar either way at 0.2 Hz; from sample to sample it changes by 0.06 bar at most."""
    t_s = times(1000)
    found = measure_of(t_s, [18 + 0.5 * math.sin(2 * math.pi * 0.2 * t) for t in t_s])
    assert found.ripple == pytest.approx(1.0, rel=0.02)
    assert found.noise is not None
    assert found.noise < 0.07


def test_counts_show_their_step() -> None:
    draw = random.Random(6)
    found = measure_of(times(500), [0.25 * round(4 * (18 + draw.gauss(0, 0.3))) for _ in range(500)])
    assert found.step == 0.25
    seen = found.effective_resolution(0.01)
    assert found.noise is not None
    assert seen == pytest.approx(max(3.6 * found.noise, 0.25))


def test_a_channel_at_rest_has_no_step_and_the_declared_resolution() -> None:
    found = measure_of(times(50), [18.0] * 50)
    assert (found.noise, found.ripple, found.step) == (0.0, 0.0, None)
    assert found.effective_resolution(0.01) == 0.01


def test_a_gap_is_seen_and_what_is_no_number_left_out() -> None:
    found = measure_of([*times(20), 5.0], [*([18.0] * 19), math.nan, 18.0])
    assert found.samples == 20
    assert found.longest_gap_s == pytest.approx(3.2)


def test_too_few_samples_say_nothing() -> None:
    found = measure_of([0.0, 0.1], [1.0, 2.0])
    assert (found.rate_hz, found.noise, found.effective_resolution(1.0)) == (None, None, None)


def test_the_guard_band_of_a_duration() -> None:
    """1.645 x 0.1 s / sqrt 6 is 0.0672 s; a tenth of 3 s is more, a tenth of half a second less."""
    limit = ShortestLimit(phase="changeover", limit_s=3.0, procedure="p", diameter_mm=20, sdr=11)
    assert limit.guard_s(10.0) == pytest.approx(0.0672, abs=1e-4)
    assert limit.is_enough(10.0)
    assert not limit.is_enough(2.0)
