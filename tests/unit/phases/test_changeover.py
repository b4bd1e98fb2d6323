"""Opening strokes that show late, or not at all, on a gauge ahead of the valve."""

from random import Random

from logger.domain.rig import GaugeSide
from logger.phases.changeover import changeover_start
from logger.phases.lag import TAU_S, Lag
from logger.phases.levels import NO_HINTS, Levels
from logger.phases.series import Series, Trace
from logger.phases.view import view_of
from tests.drawn import Drawn

LEVELS = Levels(base_bar=6.0, top_bar=26.0, enter_bar=16.0, leave_bar=14.0)
NOTHING = Series((), ())
HARDLY_ANY = Lag(tuple(float(k == 0) for k in range(len(TAU_S))))
LEFT_S, AT_STOP_S, SHUT_S = 40.0, 41.1, 41.5


def opening(stroke_bar: float, seed: int):
    """Soak at 2 bar; the stroke at its own pressure, half a second at its stop at 60 bar, then nothing."""
    corners = (
        (0, 2), (LEFT_S, 2), (LEFT_S + 0.05, stroke_bar), (AT_STOP_S, stroke_bar), (AT_STOP_S + 0.05, 60),
        (SHUT_S, 60), (SHUT_S + 0.1, 0), (44, 0), (44.3, 6), (47, 6), (51, 26), (60, 26),
    )  # fmt: skip
    curve, rng = Drawn(corners, {}), Random(seed)
    times = tuple(k / 20 for k in range(1180))
    pressure = Series(times, tuple(curve.at(t) + rng.gauss(0.0, 0.1) for t in times))
    view = view_of(Trace(pressure, NOTHING, NOTHING, NOTHING), LEVELS, NO_HINTS, GaugeSide.LINE)
    return changeover_start(view, 5.0, 47.0, HARDLY_ANY)


def test_a_stroke_that_shows_at_once_is_placed_where_it_begins():
    for seed in range(8):
        boundary = opening(8.0, seed)
        assert abs(boundary.at_s - LEFT_S) < 0.25
        assert boundary.u_s < 0.2


def test_relief_pressure_at_the_stop_is_the_end_of_a_stroke_that_hid_at_soak_level():
    for seed in range(8):
        boundary = opening(2.0, seed)
        assert abs(boundary.at_s - LEFT_S) < 1.5 * boundary.u_s < 1.2
