"""Faces that meet, part a little and meet again: the joint began to cool the first time."""

from random import Random

import pytest

from logger.phases.carriage import first_touched, parted, touched
from logger.phases.series import Series
from tests.drawn import Drawn

MET_S, AGAIN_S, PRESSED_S = 50.0, 53.0, 56.0
STROKE = ((0, 0), (44, 0), (45, 40), (46, 40), (MET_S, -0.5))
ONCE = (*STROKE, (60, -0.6))
TWICE = (*STROKE, (51, -0.6), (51.4, 4), (52.5, 4), (AGAIN_S, -0.6), (60, -0.6))


def carriage(corners, rate_hz: float, seed: int) -> Series:
    rng, curve = Random(seed), Drawn(corners, {})
    times = tuple(k / rate_hz for k in range(round(60 * rate_hz)))
    return Series(times, tuple(curve.at(t_s) + rng.gauss(0.0, 0.02) for t_s in times))


@pytest.mark.parametrize("rate_hz", [10, 50])
def test_faces_that_were_parted_and_closed_again_met_the_first_time(rate_hz):
    for seed in range(5):
        position = carriage(TWICE, rate_hz, seed)
        assert abs(first_touched(position, PRESSED_S).at_s - MET_S) < 0.1
        assert abs(touched(position, PRESSED_S).at_s - AGAIN_S) < 0.1


@pytest.mark.parametrize("rate_hz", [10, 50])
def test_faces_that_stay_closed_met_when_the_stroke_ended(rate_hz):
    for seed in range(5):
        position = carriage(ONCE, rate_hz, seed)
        assert first_touched(position, PRESSED_S) == touched(position, PRESSED_S)
        assert abs(first_touched(position, PRESSED_S).at_s - MET_S) < 0.1


STICKING = ((0, 0), (40, 0), (41, 60), (46, 60), (48, 50), (49.98, 16), (MET_S, -0.5), (60, -0.6))
APPROACHED = ((0, 0), (44, 0), (45, 40), (46, 40), (47.5, 10), (MET_S, -0.5), (60, -0.6))
OPENED_TWICE = (
    (0, 0),
    (10, 0),
    (11, 80),
    (14, 80),
    (16, 12),
    (40, 12),
    (41, 42),
    (46, 42),
    (MET_S, 0),
    (60, 0),
)


@pytest.mark.parametrize("rate_hz", [5, 10, 50])
@pytest.mark.parametrize("pushed_s", [48.5, 49.2, 49.8])
def test_a_carriage_that_sticks_is_pushed_on_before_the_faces_meet(rate_hz, pushed_s):
    """The pressure that pushes a carriage off looks like faces that press one another already."""
    for seed in range(5):
        placed = first_touched(carriage(STICKING, rate_hz, seed), pushed_s)
        assert abs(placed.at_s - MET_S) <= 1.05 / rate_hz


@pytest.mark.parametrize("rate_hz", [10, 50])
def test_faces_met_at_the_end_of_a_slow_approach(rate_hz):
    """At 50 Hz a stroke of 4.2 mm/s goes 0.08 mm from one reading to the next: no more than noise does."""
    for seed in range(5):
        placed = touched(carriage(APPROACHED, rate_hz, seed), PRESSED_S)
        assert abs(placed.at_s - MET_S) < 0.1


def test_the_faces_parted_in_the_last_opening_however_wide_an_earlier_one_was():
    for seed in range(5):
        placed = parted(carriage(OPENED_TWICE, 10, seed), 5.0, MET_S)
        assert abs(placed.at_s - 40.0) < 0.1
