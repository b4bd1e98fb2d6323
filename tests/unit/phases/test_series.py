"""Series: gaps, noise, spikes and frozen readings; runs of high pressure; the running median."""

import random
from statistics import median

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.domain.sample import Sample
from logger.phases.levels import Levels
from logger.phases.runs import high_runs, median_width, running_median
from logger.phases.series import Series, trace_of, without_spikes, without_stuck


def series(values, rate_hz: float = 10.0) -> Series:
    return Series(tuple(k / rate_hz for k in range(len(values))), tuple(values))


def noisy(level: float, count: int, sigma: float = 0.05, seed: int = 3) -> list[float]:
    rng = random.Random(seed)
    return [level + rng.gauss(0.0, sigma) for _ in range(count)]


def test_a_gap_is_longer_than_three_intervals_and_half_a_second():
    fast = Series((0.0, 0.1, 0.2, 0.3, 0.75, 0.85, 1.5), (1.0,) * 7)
    assert fast.gaps == ((0.85, 1.5),), "0.45 s at 10 Hz is four intervals but no half second"
    slow = Series((0.0, 1.0, 2.0, 4.0, 5.0, 9.0), (1.0,) * 6)
    assert slow.gaps == ((5.0, 9.0),), "2 s at 1 Hz is half a second but no three intervals"


def test_the_gap_around_a_time_is_found_with_its_edges():
    s = Series((0.0, 0.1, 0.2, 5.0, 5.1), (1.0,) * 5)
    assert s.gap_over(3.0) == (0.2, 5.0)
    assert s.gap_over(5.05) is None
    assert s.gap_over(5.05, margin_s=0.1) == (0.2, 5.0)


@pytest.mark.parametrize("slope_per_s", [0.0, 4.0, -4.0])
def test_noise_is_told_from_slope(slope_per_s):
    ramp = series([v + slope_per_s * k / 10 for k, v in enumerate(noisy(10.0, 2000, sigma=0.2))])
    assert ramp.noise == pytest.approx(0.2, rel=0.1)


def test_a_step_hardly_adds_to_the_noise():
    step = series(noisy(1.0, 500) + noisy(28.0, 500, seed=4))
    assert step.noise == pytest.approx(0.05, rel=0.15)


@given(st.lists(st.floats(-100, 100), max_size=60), st.sampled_from([1, 3, 5, 9]))
@settings(max_examples=100)
def test_the_running_median_is_the_median_of_what_is_within_reach(values, width):
    half = width // 2
    expected = []
    for k in range(len(values)):
        window = sorted(values[max(0, k - half) : k + half + 1])
        expected.append(window[len(window) // 2])
    assert list(running_median(values, width)) == expected


@pytest.mark.parametrize(
    ("interval_s", "width"), [(0.0, 1), (0.02, 21), (0.1, 5), (0.2, 3), (0.5, 3), (1.0, 1)]
)
def test_slow_sampling_has_nothing_to_spare_for_a_median(interval_s, width):
    assert median_width(interval_s) in (width, width - 2)
    assert median_width(interval_s) % 2 == 1


def test_spikes_are_left_out_and_edges_stay():
    values = noisy(1.0, 50) + noisy(28.0, 50, seed=5)
    values[20] = 60.0
    values[70] = -5.0
    kept = without_spikes(series(values), threshold=0.5)
    assert len(kept) == 98
    assert 60.0 not in kept.values
    assert -5.0 not in kept.values
    assert {4.9, 5.0} <= set(kept.t_s), "the readings on either side of the edge"


def test_a_stroke_is_no_spike():
    values = noisy(0.0, 50) + noisy(8.0, 8, seed=6) + noisy(0.0, 50, seed=7)
    assert len(without_spikes(series(values), threshold=0.5)) == len(values)


def test_a_frozen_stretch_is_no_reading_but_its_first_is():
    values = noisy(28.0, 200)
    values[100:170] = [values[100]] * 70
    kept = without_stuck(series(values))
    assert len(kept) == 200 - 69
    assert (10.0 in kept.t_s, 10.1 in kept.t_s, 17.0 in kept.t_s) == (True, False, True)
    assert kept.gaps == ((10.0, 17.0),)


def test_at_two_readings_a_second_a_few_repeats_that_cannot_be_chance_are_enough():
    values = noisy(28.0, 400)
    values[100:120] = [values[100]] * 20
    slow = Series(tuple(0.5 * k for k in range(400)), tuple(values))
    assert without_stuck(slow).gaps == ((50.0, 60.0),)
    often = [round(value) for value in noisy(28.0, 400)]
    often[100:120] = [often[100]] * 20
    coarse = Series(slow.t_s, tuple(float(value) for value in often))
    assert without_stuck(coarse) == coarse


def test_a_short_repeat_and_a_channel_that_always_rests_are_left_alone():
    short = noisy(28.0, 200)
    short[100:130] = [short[100]] * 30
    assert without_stuck(series(short)) == series(short)
    coarse = series([28.0] * 150 + [28.1] * 150)
    assert without_stuck(coarse) == coarse


def test_a_channel_without_readings_is_an_empty_series():
    trace = trace_of([Sample(t_s=0.0, pressure_bar=1.0), Sample(t_s=0.1), Sample(t_s=0.2, plate_in=True)])
    assert trace.plate_temperature == Series((), ())
    assert trace.pressure.t_s == (0.0,)
    assert trace.plate_in.values == (1.0,)


LEVELS = Levels(base_bar=8.0, top_bar=28.0, enter_bar=18.0, leave_bar=16.0)


def test_runs_have_hysteresis():
    values = [8.0] * 30 + [28.0] * 30 + [17.0] * 30 + [28.0] * 30 + [15.0] * 30
    (run,) = high_runs(series(values), LEVELS)
    assert (run.start_s, run.end_s, run.open_end) == (pytest.approx(3.0), pytest.approx(12.0), False)


def test_short_dips_are_merged_and_short_pulses_dropped():
    dip = [28.0] * 40 + [8.0] * 8 + [28.0] * 40
    assert len(high_runs(series([8.0] * 20 + dip + [8.0] * 20), LEVELS)) == 1
    pulse = [8.0] * 40 + [28.0] * 8 + [8.0] * 40
    assert high_runs(series(pulse), LEVELS) == ()


def test_a_run_that_the_trace_ends_in_says_so():
    (run,) = high_runs(series([8.0] * 20 + [28.0] * 40), LEVELS)
    assert run.open_end
    assert run.end_s == pytest.approx(5.9)


def test_the_median_of_intervals_is_the_interval():
    s = Series((0.0, 0.1, 0.2, 0.3, 9.0), (0.0,) * 5)
    assert s.interval_s == pytest.approx(median([0.1, 0.1, 0.1, 8.7]))
