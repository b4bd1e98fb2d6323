"""A release that takes seconds, in noise that hides its first second."""

from random import Random

import pytest

from logger.domain.rig import GaugeSide
from logger.phases.levels import NO_HINTS, Levels
from logger.phases.runs import Run
from logger.phases.series import Series, Trace
from logger.phases.slow_fall import slow_fall
from logger.phases.view import view_of
from tests.drawn import Drawn

LEVELS = Levels(base_bar=0.0, top_bar=28.0, enter_bar=14.0, leave_bar=11.2)
NOTHING = Series((), ())
HELD_S = 80.0


def knee_of(falls_s: float, noise_bar: float, seed: int = 1):
    """Held for 80 s, then off within `falls_s`; the run ends under 11.2 bar."""
    corners = ((0, 28), (HELD_S, 28), (HELD_S + falls_s, 0), (HELD_S + falls_s + 9, 0))
    return fall_of(corners, noise_bar, HELD_S + 0.6 * falls_s, seed)


def fall_of(corners, noise_bar: float, end_s: float, seed: int = 1):
    curve, rng = Drawn(corners, {}), Random(seed)
    times = [0.1 * k for k in range(round(10 * corners[-1][0]))]
    pressure = Series(tuple(times), tuple(curve.at(t) + rng.gauss(0.0, noise_bar) for t in times))
    view = view_of(Trace(pressure, NOTHING, NOTHING, NOTHING), LEVELS, NO_HINTS, GaugeSide.LINE)
    return slow_fall(view, Run(0.0, end_s))


@pytest.mark.parametrize("noise_bar", [0.1, 1.0])
@pytest.mark.parametrize("falls_s", [10.0, 20.0])
def test_its_knee_lies_within_what_is_stated(falls_s, noise_bar):
    knees = [knee_of(falls_s, noise_bar, seed) for seed in range(12)]
    assert None not in knees
    assert all(abs(knee.at_s - HELD_S) < 3.0 * knee.u_s < 6.0 for knee in knees if knee)


def test_pressure_that_was_lost_and_held_low_until_the_release_is_no_slow_release():
    corners = ((0, 28), (65, 28), (66, 15), (HELD_S, 15), (HELD_S + 1, 0), (HELD_S + 9, 0))
    assert fall_of(corners, 0.3, HELD_S + 0.25) is None


@pytest.mark.parametrize("falls_s", [0.8, 2.5])
def test_a_release_of_a_second_or_two_is_left_to_the_onset(falls_s):
    assert all(knee_of(falls_s, 1.0, seed) is None for seed in range(12))


def test_pressure_that_sagged_before_it_was_let_off_at_once_is_no_slow_release():
    corners = ((0, 28), (HELD_S - 26, 28), (HELD_S, 24), (HELD_S + 0.8, 0), (HELD_S + 9, 0))
    assert all(fall_of(corners, 0.05, HELD_S + 0.2, seed) is None for seed in range(8))
