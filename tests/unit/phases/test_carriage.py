"""Faces that meet, part a little and meet again: the joint began to cool the first time."""

from random import Random

import pytest

from logger.phases.carriage import first_touched, touched
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
