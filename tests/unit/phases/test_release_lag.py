"""The lag of a gauge read off releases that were made with a known one."""

import math
import random

import pytest

from logger.domain.sample import Sample
from logger.phases.release_lag import release_lag

STEP_S = 0.002


def releases(lag_s: float, rate_hz: float, valve_s: float, count: int = 3) -> list[Sample]:
    """40 bar held for six seconds, let go by a valve that takes so long, through a first-order lag."""
    noise = random.Random(7)
    shown, samples = 0.0, []
    every = round(1 / rate_hz / STEP_S)
    for k in range(round((12 * count + 1) / STEP_S)):
        t_s = k * STEP_S
        at_s = (t_s - 1) % 12 if t_s >= 1 else 11
        source = 20 * at_s if at_s < 2 else 40 if at_s < 8 else max(0.0, 40 * (1 - (at_s - 8) / valve_s))
        shown += (source - shown) * (1 - math.exp(-STEP_S / lag_s))
        if k % every == 0:
            samples.append(Sample(t_s=t_s, pressure_bar=round(shown + noise.gauss(0, 0.1), 2)))
    return samples


@pytest.mark.parametrize("lag_s", [0.1, 0.2, 0.4, 0.6])
@pytest.mark.parametrize("rate_hz", [10, 50])
@pytest.mark.parametrize("valve_s", [0.1, 0.3])
def test_the_lag_is_found_within_its_uncertainty(lag_s, rate_hz, valve_s):
    found = release_lag(releases(lag_s, rate_hz, valve_s))
    assert found is not None
    assert found.releases == 3
    assert abs(found.lag_s - lag_s) < 2 * found.u_s
    assert found.u_s < math.hypot(0.3 * lag_s, 0.3 / rate_hz)


@pytest.mark.parametrize("seed", range(6))
def test_values_as_old_as_the_interval_allows_leave_the_lag_within_its_uncertainty(seed):
    rate_hz, ages = 10, random.Random(seed)
    fresh = releases(0.1, 500, 0.02)
    aged = [
        Sample(t_s=k / rate_hz, pressure_bar=fresh[max(0, 50 * k - ages.randrange(25))].pressure_bar)
        for k in range(len(fresh) // 50)
    ]
    found = release_lag(aged)
    assert found is not None
    assert abs(found.lag_s - 0.1) < 2 * found.u_s


def test_a_slow_valve_reads_as_lag_never_the_other_way_round():
    found = release_lag(releases(0.05, 50, 1.0))
    assert found is not None
    assert found.lag_s > 0.05


def test_without_a_release_there_is_no_lag():
    assert release_lag([Sample(t_s=k / 10, pressure_bar=40.0) for k in range(200)]) is None
    assert release_lag([]) is None
    held = [Sample(t_s=k / 10, pressure_bar=40.0 if 10 < k < 80 else 0.0) for k in range(90)]
    assert release_lag(held) is None, "the fall's end was not seen"
