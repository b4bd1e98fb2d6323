"""How noisy the pressure is: as averages scatter, which differences of neighbours do not tell."""

from math import sqrt
from random import Random

import pytest

from logger.domain.rig import GaugeSide
from logger.phases.breakaway import slip_of
from logger.phases.levels import Levels, hints_of
from logger.phases.series import Series, Trace, smoothed
from logger.phases.view import View, view_of
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn, remembering_noise
from tests.unit.judge.plans import plan_of

LEVELS = Levels(base_bar=DRAG_BAR, top_bar=JOINING_BAR, enter_bar=18.0, leave_bar=16.0)
NOTHING = Series((), ())
SIGMA_BAR = 0.8
MEMORY_S = 0.13


def seen(seed: int, rate_hz: float, memory_s: float) -> View:
    """A plain rise to joining pressure, behind noise that remembers itself over `memory_s`."""
    curve = Drawn(((0, 8), (10, 8), (15, 28), (70, 28)), {})
    times = tuple(k / rate_hz for k in range(round(70 * rate_hz)))
    noise = remembering_noise(Random(seed), len(times), rate_hz=rate_hz, memory_s=memory_s, sigma=SIGMA_BAR)
    bars = tuple(curve.at(t_s) + bar for t_s, bar in zip(times, noise, strict=True))
    return view_of(
        Trace(Series(times, bars), NOTHING, NOTHING, NOTHING),
        LEVELS,
        hints_of(plan_of()),
        GaugeSide.CLOSING,
    )


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0])
def test_white_noise_is_that_of_one_reading(rate_hz):
    for seed in range(5):
        assert seen(seed, rate_hz, 0.0).noise == pytest.approx(SIGMA_BAR, rel=0.2)


@pytest.mark.parametrize("rate_hz", [20.0, 50.0])
def test_noise_that_remembers_itself_is_told_by_averages(rate_hz):
    """Once divided by the root of the readings in a quarter of a second it is about what averages scatter by:
    a quarter less where neighbours still remember one another, and a third or an eighth without averaging.
    """
    for seed in range(5):
        view = seen(seed, rate_hz, MEMORY_S)
        held = smoothed(view.trace.pressure, 0.25).window(20.0, 69.0).values
        mean = sum(held) / len(held)
        scatter = sqrt(sum((bar - mean) ** 2 for bar in held) / len(held))
        assert 0.6 * scatter < view.noise / sqrt(0.25 * rate_hz) < 1.1 * scatter


def test_it_makes_no_slip_of_pressure_that_is_held():
    assert all(slip_of(seen(seed, 50.0, MEMORY_S), 12.5) is None for seed in range(30))
