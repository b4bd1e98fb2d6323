"""The opening stroke on a line-side gauge: above soak and neutral alike, in two steps, or after a let-off."""

from random import Random

import pytest

from logger.domain.rig import GaugeSide
from logger.phases.changeover import changeover_start
from logger.phases.lag import TAU_S, Lag
from logger.phases.levels import NO_HINTS, Levels
from logger.phases.opening_pulse import opening_pulse
from logger.phases.series import Series, Trace
from logger.phases.view import view_of
from tests.drawn import Drawn

LEVELS = Levels(base_bar=6.0, top_bar=26.0, enter_bar=16.0, leave_bar=14.0)
NOTHING = Series((), ())
HARDLY_ANY = Lag(tuple(float(k == 0) for k in range(len(TAU_S))))
LEFT_S = 40.0
CLOSES = ((44, 0), (44.3, 6), (47, 6), (51, 26), (60, 26))
TAIL = tuple((LEFT_S + 1.0 + 0.3 * k, 14.0 * 0.6**k) for k in range(9))


def seen(corners, noise_bar: float, seed: int, *, silent: tuple[float, float] = (0.0, 0.0)):
    curve, rng = Drawn(((0, corners[0][1]), *corners, *CLOSES), {}), Random(seed)
    times = tuple(k / 10 for k in range(590) if not silent[0] < k / 10 < silent[1])
    pressure = Series(times, tuple(curve.at(t) + rng.gauss(0.0, noise_bar) for t in times))
    view = view_of(Trace(pressure, NOTHING, NOTHING, NOTHING), LEVELS, NO_HINTS, GaugeSide.LINE)
    closed_s = silent[0] or 47.0
    return changeover_start(view, 5.0, closed_s, HARDLY_ANY)


@pytest.mark.parametrize("soak_bar", [0.2, 3.0])
def test_a_pulse_that_a_slow_hose_draws_out_begins_where_it_rises(soak_bar):
    for seed in range(6):
        boundary = seen(
            ((LEFT_S, soak_bar), (LEFT_S + 0.1, 2 + soak_bar), (LEFT_S + 0.9, 14), *TAIL), 0.05, seed
        )
        assert boundary.at_s == pytest.approx(LEFT_S, abs=0.3)


def test_faces_pulled_free_after_a_let_off_are_placed_between_it_and_the_peak():
    for seed in range(6):
        boundary = seen(
            ((LEFT_S, 12), (LEFT_S + 0.1, 4), (LEFT_S + 0.6, 4), (LEFT_S + 1.2, 30), (LEFT_S + 1.5, 0)),
            0.1,
            seed,
        )
        assert all(abs(boundary.at_s - at_s) < 2.0 * boundary.u_s for at_s in (LEFT_S, LEFT_S + 1.2))


def test_a_closing_stroke_before_a_gap_over_the_touch_is_no_opening():
    """The soak was left in plain sight; what rises before the gap is the carriage on its way back."""
    for seed in range(6):
        boundary = seen(((LEFT_S, 4), (LEFT_S + 0.1, 0)), 0.1, seed, silent=(45.5, 50.0))
        assert boundary.at_s == pytest.approx(LEFT_S, abs=1.0)


def test_what_stands_out_no_more_than_noise_is_no_pulse():
    near = Series(tuple(k / 10 for k in range(20)), tuple(2.0 + 0.3 * (k % 2) for k in range(20)))
    assert opening_pulse(near, 2.0, 0.0, noise=0.1) is None
    assert opening_pulse(Series((), ()), 2.0, 0.0, noise=0.1) is None
