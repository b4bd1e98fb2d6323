"""A carriage that stuck and broke loose: when the faces met, and what is no slip at all."""

from random import Random

import pytest

from logger.domain.phase import Phase
from logger.domain.rig import GaugeSide
from logger.phases.breakaway import slip_of
from logger.phases.detect import detect
from logger.phases.levels import Levels, hints_of
from logger.phases.series import Series, Trace
from logger.phases.view import View, view_of
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn, draw_joint
from tests.unit.judge.plans import plan_of

LEVELS = Levels(base_bar=DRAG_BAR, top_bar=JOINING_BAR, enter_bar=18.0, leave_bar=16.0)
HINTS = hints_of(plan_of())
NOTHING = Series((), ())


def view_through(corners, noise_bar=0.05) -> View:
    curve, rng = Drawn(tuple(corners), {}), Random(3)
    times = [0.1 * k for k in range(round(10 * corners[-1][0]))]
    pressure = Series(tuple(times), tuple(curve.at(t) + rng.gauss(0.0, noise_bar) for t in times))
    return view_of(Trace(pressure, NOTHING, NOTHING, NOTHING), LEVELS, HINTS, GaugeSide.LINE)


def test_the_faces_met_between_the_peak_and_the_lowest_reading_after_it():
    view = view_through([(0, 0), (10, 0), (12, 40), (12.5, 20), (14, 28), (40, 28)])
    slip = slip_of(view, 10.9)
    assert slip is not None
    assert (slip.peak_s, slip.low_s) == (pytest.approx(12.0, abs=0.25), pytest.approx(12.5, abs=0.25))
    assert slip.low_s < slip.back_s < 14.0
    assert slip.middle_s - 2 * slip.u_s < 12.2 < slip.middle_s + 2 * slip.u_s


def test_of_several_slips_the_last_counts():
    view = view_through([(0, 0), (10, 0), (11, 22), (11.5, 12), (13, 24), (13.5, 12), (15, 28), (40, 28)])
    slip = slip_of(view, 10.8)
    assert slip is not None
    assert slip.peak_s == pytest.approx(13.0, abs=0.25)


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 8), (10, 8), (15, 28), (40, 28)],
        [(0, 8), (10, 8), (11, 34), (13, 28), (40, 28)],
        [(0, 8), (10, 8), (12, 28), *[(12 + k, 28 + 2 * (k % 2)) for k in range(1, 28)]],
        [(0, 8), (10, 8), (12, 28), (15, 28), (15.5, 26), (16, 28), (40, 28)],
    ],
    ids=[
        "a plain rise",
        "an overshoot that settles",
        "ripple as deep while it is held",
        "a nudge at the lever while it is held",
    ],
)
def test_what_is_no_slip(corners):
    assert slip_of(view_through(corners), 12.0) is None


def test_a_bead_up_behind_a_breakaway_peak_above_joining_pressure_begins_after_it():
    drawn = draw_joint()
    start_s = drawn.truth[Phase.BEAD_UP][0]
    corners = [corner for corner in drawn.corners if not start_s - 3.0 < corner[0] < start_s + 2.0]
    peak = [(start_s - 2.5, 0.0), (start_s - 0.4, 36.0), (start_s, 18.0), (start_s + 1.0, JOINING_BAR)]
    first = next(k for k, corner in enumerate(corners) if corner[0] > start_s)
    stuck = Drawn((*corners[:first], *peak, *corners[first:]), {})
    found = detect(stuck.samples(), HINTS, GaugeSide.LINE).spans[0].start
    assert found.at_s is not None
    assert found.u_s is not None
    assert abs(found.at_s - (start_s - 0.2)) < 2 * found.u_s < 0.6


@pytest.mark.parametrize("seen_again_s", [0.8, 1.2])
def test_a_rise_already_under_way_when_the_readings_come_back_began_in_the_gap(seen_again_s):
    drawn = draw_joint(ramp_s=6.0)
    met_s = drawn.truth[Phase.PRESSURE_BUILD_UP][0]
    samples = [s for s in drawn.samples() if not met_s - 2.0 < s.t_s < met_s + seen_again_s]
    touch = detect(samples, HINTS, GaugeSide.LINE).spans[3].start
    assert (touch.at_s, touch.reason) == (None, "gap_over_boundary")
