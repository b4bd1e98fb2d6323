"""Rate, noise, ripple and steps of curves whose figures are known beforehand."""

import math
import random
from dataclasses import replace

import pytest

from logger.domain.live_check import Acuity, ShortestLimit
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
    assert found.ripple is not None
    assert seen == pytest.approx(max(3.6 * found.noise, found.ripple, 0.25))


def test_a_ripple_hides_edges_that_the_noise_would_show() -> None:
    found = measure_of(times(1000), [18 + 0.5 * math.sin(2 * math.pi * 0.2 * t) for t in times(1000)])
    assert found.effective_resolution(0.01) == pytest.approx(1.0, rel=0.02)
    # A sine from -0.5 to 0.5 has a standard deviation of 0.5 / sqrt 2.
    assert found.spread == pytest.approx(0.5 / math.sqrt(2), rel=0.02)


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
    assert limit.guard_s(Acuity(rate_hz=10.0)) == pytest.approx(0.0672, abs=1e-4)
    assert limit.is_enough(Acuity(rate_hz=10.0))
    assert not limit.is_enough(Acuity(rate_hz=2.0))
    assert limit.shows(Acuity(rate_hz=10.0, spread_bar=1.0, resolution_bar=4.0)) is None


def of_pipe(diameter_mm: float, edge_force_N: float, larger: tuple[ShortestLimit, ...] = ()) -> ShortestLimit:
    return ShortestLimit(
        phase="pressure_build_up",
        limit_s=4.0,
        procedure="p",
        diameter_mm=diameter_mm,
        sdr=11,
        edge_force_N=edge_force_N,
        rise_s=4.0,
        larger=larger,
    )


def test_noise_and_ripple_decide_whether_a_limit_can_be_told() -> None:
    """500 mm2: 500 N are 10 bar. 0.05 bar on a rise of 10 bar in 4 s is 0.02 s, at both ends 0.028 s."""
    quiet = Acuity(rate_hz=50.0, spread_bar=0.05, resolution_bar=0.2, piston_area_mm2=500.0)
    large = of_pipe(110, 500.0)
    assert large.edge_bar(quiet) == pytest.approx(10.0)
    sampling_s = 1 / 50.0 / math.sqrt(6)
    assert large.guard_s(quiet) == pytest.approx(1.645 * math.hypot(sampling_s, 0.02 * math.sqrt(2)))
    assert large.is_enough(quiet)
    loud = replace(quiet, spread_bar=0.8)
    assert not large.is_enough(loud), "the rise is as unsure as its noise"
    rippled = replace(quiet, resolution_bar=12.0)
    assert (large.shows(rippled), large.is_enough(rippled)) == (False, False)


def test_the_smallest_pipe_from_which_on_all_are_enough() -> None:
    acuity = Acuity(rate_hz=50.0, spread_bar=0.05, resolution_bar=2.0, piston_area_mm2=500.0)
    small = of_pipe(20, 50.0, larger=(of_pipe(63, 120.0), of_pipe(90, 60.0), of_pipe(110, 500.0)))
    found = small.enough_from(acuity)
    assert found is not None
    assert found.diameter_mm == 110, "63 would do, 90 would not"
    assert small.enough_from(replace(acuity, resolution_bar=20.0)) is None
