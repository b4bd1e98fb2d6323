"""Where a fall or a rise begins, as long as the noise lets it be seen."""

from random import Random

import pytest

from logger.domain.rig import GaugeSide
from logger.phases.lag import TAU_S, Lag
from logger.phases.levels import NO_HINTS, Hints, Levels
from logger.phases.rise_fall import fall_start, rise_start
from logger.phases.series import Series, Trace
from logger.phases.view import view_of
from tests.drawn import Drawn

LEVELS = Levels(base_bar=0.0, top_bar=28.0, enter_bar=14.0, leave_bar=11.2)
NOTHING = Series((), ())
HELD_S = 40.03
NOISE_BAR = 0.1
HARDLY_ANY = Lag(tuple(float(k == 0) for k in range(len(TAU_S))))


@pytest.mark.parametrize("rate_hz", [10, 50])
@pytest.mark.parametrize("falls_s", [1.0, 6.0, 20.0])
def test_a_fall_begins_where_the_pressure_was_held_last(falls_s, rate_hz):
    curve = Drawn(((0, 28), (HELD_S, 28), (HELD_S + falls_s, 0), (HELD_S + falls_s + 9, 0)), {})
    times = tuple(k / rate_hz for k in range(round(rate_hz * (HELD_S + falls_s + 9))))
    for seed in range(4):
        rng = Random(seed)
        pressure = Series(times, tuple(curve.at(t) + rng.gauss(0.0, NOISE_BAR) for t in times))
        view = view_of(Trace(pressure, NOTHING, NOTHING, NOTHING), LEVELS, NO_HINTS, GaugeSide.LINE)
        knee = fall_start(view, HELD_S + 0.6 * falls_s, HARDLY_ANY)
        assert knee is not None
        assert HELD_S - 0.4 < knee.at_s < HELD_S + 0.1


def test_a_stroke_that_runs_right_into_the_rise_is_never_said_to_be_exact():
    # No reading stands at drag: one is below the stroke, the next up the ramp already.
    times = tuple(float(k) for k in range(40))
    rng = Random(1)
    bars = tuple((0.0 if t < 20.0 else 28.0) + rng.gauss(0.0, NOISE_BAR) for t in times)
    hints = Hints(drag_bar=6.0)
    view = view_of(Trace(Series(times, bars), NOTHING, NOTHING, NOTHING), LEVELS, hints, GaugeSide.CLOSING)
    knee = rise_start(view, 20.0, HARDLY_ANY)
    assert knee is not None
    assert abs(knee.at_s - 19.5) < 1.0
    assert knee.u_s > 0.25
