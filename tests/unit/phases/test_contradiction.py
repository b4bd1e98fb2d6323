"""Carriage and pressure that tell of the start of bead-up at different times: one of them is wrong."""

from random import Random

import pytest

from logger.domain.rig import GaugeSide
from logger.phases.boundaries import spans_of
from logger.phases.levels import Hints, Levels
from logger.phases.pattern import Cycle
from logger.phases.runs import Run
from logger.phases.series import Series, Trace
from logger.phases.view import view_of
from tests.drawn import Drawn

LEVELS = Levels(base_bar=6.0, top_bar=26.0, enter_bar=16.0, leave_bar=14.0)
NOTHING = Series((), ())
RISES_S = 40.0
RATE_HZ = 10


def readings(corners, noise: float, rng: Random) -> Series:
    curve = Drawn(corners, {})
    times = tuple(k / RATE_HZ for k in range(70 * RATE_HZ))
    return Series(times, tuple(curve.at(t_s) + rng.gauss(0.0, noise) for t_s in times))


@pytest.mark.parametrize(("rested_s", "least_u_s", "most_u_s"), [(40.0, 0.0, 0.1), (34.0, 1.5, 2.5)])
def test_a_carriage_that_rested_long_before_any_pressure_widens_the_boundary(rested_s, least_u_s, most_u_s):
    rng = Random(3)
    pressure = readings(((0, 0), (24, 0), (25, 6), (RISES_S, 6), (RISES_S + 3, 26), (70, 26)), 0.1, rng)
    carriage = readings(((0, 100), (25, 100), (rested_s, 10), (70, 9.8)), 0.02, rng)
    trace = Trace(pressure, NOTHING, carriage, NOTHING)
    view = view_of(trace, LEVELS, Hints(drag_bar=6.0), GaugeSide.CLOSING)
    start = spans_of(Cycle(Run(RISES_S + 1.5, 68.0), None), view)[0].start
    assert abs(start.at_s - RISES_S) < 1.0
    assert least_u_s <= start.u_s < most_u_s
