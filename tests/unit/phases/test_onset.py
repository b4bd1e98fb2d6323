"""The onset of a change behind a lag that nobody told: where it began, not where it shows."""

import random
from math import exp

import pytest

from logger.domain.rig import HydraulicLag
from logger.phases.lag import ANY_LAG, lag_of
from logger.phases.onset import Before, fit_onset
from logger.phases.series import Series

ONSET_S = 4.03
NOISE = 0.05
BEFORE = Before(drift_per_s=0.05)


def lagged_ramp(lag_s: float, *, sigma: float = NOISE, seed: int = 1) -> Series:
    """A ramp of 6 per second from `ONSET_S` on through a first-order lag, in closed form, at 10 Hz."""
    rng = random.Random(seed)
    times = tuple(k / 10 for k in range(52))

    def value(t_s: float) -> float:
        x = t_s - ONSET_S
        return 0.0 if x <= 0 else 6.0 * (x - lag_s * (1 - exp(-x / lag_s)))

    return Series(times, tuple(8.0 + value(t) + rng.gauss(0.0, sigma) for t in times))


def vented(*lags_s: float, seed: int = 1) -> Series:
    """Pressure that is gone every 20 s, from 8 s on, through one first-order lag after another, at 20 Hz."""
    rng = random.Random(seed)
    times = tuple(k / 20 for k in range(400 * len(lags_s)))

    def bar(t_s: float) -> float:
        since_s = t_s % 20.0 - 8.0
        return 20.0 if since_s < 0 else 20.0 * exp(-since_s / lags_s[int(t_s // 20.0)])

    return Series(times, tuple(bar(t) + rng.gauss(0.0, NOISE) for t in times))


def falls_of(series: Series) -> list[float]:
    return [20.0 * k + 8.1 for k in range(len(series) // 400)]


def test_a_step_between_two_readings_lies_between_them():
    series = Series(tuple(k / 10 for k in range(100)), tuple([1.0] * 50 + [9.0] * 50))
    knee = fit_onset(series, (4.0, 6.0), NOISE, BEFORE, ANY_LAG)
    assert knee is not None
    assert 4.85 <= knee.at_s <= 5.0
    assert knee.u_s >= 0.1 / 12**0.5 * 0.999


@pytest.mark.parametrize("lag_s", [0.05, 0.15, 0.3, 0.6])
def test_a_lag_does_not_move_the_onset(lag_s):
    errors = []
    for seed in range(40):
        knee = fit_onset(lagged_ramp(lag_s, seed=seed), (3.2, 4.8), NOISE, BEFORE, ANY_LAG)
        assert knee is not None
        errors.append((knee.at_s - ONSET_S, knee.u_s))
    # A dead time that there may be is taken off, a tenth of the lag that is believed.
    assert sum(e for e, _ in errors) / len(errors) == pytest.approx(0.0, abs=0.06 + 0.1 * ANY_LAG.mean_s)
    assert sum(abs(e) > 2.6 * u for e, u in errors) <= 4


def test_a_bracket_with_two_places_that_fit_alike_says_so_by_its_uncertainty():
    """Nothing was read for two seconds: the step may be anywhere in between."""
    times = [k / 10 for k in range(100) if not 40 < k < 60]
    series = Series(tuple(times), tuple(1.0 if t < 5.0 else 9.0 for t in times))
    knee = fit_onset(series, (3.5, 6.5), NOISE, BEFORE, ANY_LAG)
    assert knee is not None
    assert abs(knee.at_s - 5.0) < 2 * knee.u_s
    assert knee.u_s > 0.2


@pytest.mark.parametrize("lag_s", [0.08, 0.2, 0.45])
def test_the_tails_of_three_falls_tell_the_lag(lag_s):
    for seed in range(10):
        series = vented(lag_s, lag_s, lag_s, seed=seed)
        lag = lag_of(series, falls_of(series), NOISE)
        assert lag.mean_s == pytest.approx(lag_s, abs=2.5 * lag.u_s)
        assert lag.u_s < 0.5 * ANY_LAG.u_s


def test_falls_by_hand_do_not_make_the_lag_longer_than_the_one_vent_shows():
    mixed = vented(0.1, 0.5, 0.5, 0.5)
    slow = vented(0.5, 0.5, 0.5, 0.5)
    by_hand, alike = (lag_of(series, falls_of(series), NOISE) for series in (mixed, slow))
    assert by_hand.mean_s < 0.3
    assert alike.mean_s > by_hand.mean_s + 0.1


def test_the_commissioned_lag_is_only_where_the_search_begins():
    commissioned = HydraulicLag(lag_s=0.15, u_s=0.02, measured_on="2026-07-01")
    unseen = lag_of(vented(0.2), [], NOISE, commissioned)
    assert abs(unseen.mean_s - 0.15) < abs(ANY_LAG.mean_s - 0.15)
    assert unseen.u_s > 0.1
    january = vented(0.6, 0.6, 0.6)
    assert lag_of(january, falls_of(january), NOISE, commissioned).mean_s > 0.4


@pytest.mark.parametrize("rate_hz", [10, 50])
def test_faces_that_meet_at_speed_are_not_placed_early(rate_hz):
    """A jump of 0.2 s of the ramp that follows looks like a slow valve, begun earlier."""
    heads = ((0.0, 0.65), (0.08, 0.2), (0.2, 0.15))
    before = Before(drift_per_s=0.05, heads=heads)
    errors = []
    for seed in range(20):
        rng = random.Random(seed)
        times = tuple(k / rate_hz for k in range(int(5.2 * rate_hz)))
        jumped = [
            0.0 if t < ONSET_S else 6.0 * (t - ONSET_S) + 1.2 * (1 - exp(-(t - ONSET_S) / 0.1)) for t in times
        ]
        series = Series(times, tuple(v + rng.gauss(0.0, NOISE) for v in jumped))
        knee = fit_onset(series, (3.2, 4.8), NOISE, before, ANY_LAG)
        assert knee is not None
        assert abs(knee.at_s - ONSET_S) < 3 * knee.u_s
        errors.append(knee.at_s - ONSET_S)
    assert sum(errors) / len(errors) == pytest.approx(0.0, abs=0.06)


def test_noise_that_remembers_itself_makes_the_onset_less_certain():
    def u_s(kept: float) -> float:
        rng = random.Random(3)
        times = tuple(k / 50 for k in range(260))
        noise = [0.0]
        for _ in times:
            noise.append(kept * noise[-1] + (1 - kept * kept) ** 0.5 * rng.gauss(0.0, 1.0))
        values = tuple(6.0 * max(t - ONSET_S, 0.0) + e for t, e in zip(times, noise[1:], strict=True))
        knee = fit_onset(Series(times, values), (3.2, 4.8), 1.0, BEFORE, ANY_LAG)
        assert knee is not None
        return knee.u_s

    assert u_s(0.9) > 1.3 * u_s(0.0)


def test_too_few_readings_give_no_onset():
    assert fit_onset(Series((0.0, 0.1), (1.0, 2.0)), (0.0, 0.1), NOISE, BEFORE, ANY_LAG) is None
