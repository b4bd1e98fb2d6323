"""Which high runs are bead-up and cooling where more than one pair could be."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Verdict
from logger.domain.rig import GaugeSide, Rig
from logger.judge.judge import judge
from logger.phases.detect import detect
from logger.phases.levels import Hints, hints_of
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn, draw_joint
from tests.unit.judge.plans import plan_of

HINTS = hints_of(plan_of())


def with_a_check_before(seconds: float, away_s: float, **drawing: float) -> tuple[Drawn, float]:
    """A joint behind one alignment check at joining pressure, let go `away_s` before the bead-up's stroke."""
    joint = draw_joint(preparation=False, **drawing)
    check = [
        (0.0, 0.0),
        (10.0, 0.0),
        (10.3, JOINING_BAR),
        (10.3 + seconds, JOINING_BAR),
        (10.6 + seconds, 0.0),
    ]
    shift_s = 10.6 + seconds + away_s
    corners = (*check, *((t_s + shift_s, bar) for t_s, bar in joint.corners))
    return Drawn(corners, {}), shift_s + joint.truth["bead_up"][0]


@pytest.mark.parametrize("seconds", [4.0, 5.0])
def test_an_alignment_check_shortly_before_is_not_the_bead_up_whose_beginning_is_lost(seconds):
    """What is left of it is as short as the check, and the plate's dip falls in the time after the check."""
    drawn, start_s = with_a_check_before(seconds, 3.0)
    samples = [
        replace(
            s,
            plate_temperature_degC=220.0 if s.t_s < start_s else 214.0,
            pressure_bar=None if start_s - 1.0 < s.t_s < start_s + 21.5 else s.pressure_bar,
        )
        for s in drawn.samples()
    ]
    bead_up = detect(samples, HINTS, GaugeSide.LINE).spans[0]
    assert (bead_up.start.at_s, bead_up.start.reason) == (None, "gap_over_boundary")
    assert bead_up.end.at_s == pytest.approx(start_s + 26.0, abs=1.0)


def test_a_soak_held_under_half_the_pressure_is_not_taken_for_the_bead_up():
    """Its pressure sways around the thresholds, so that it falls apart into runs of its own."""
    joint = draw_joint(preparation=False, soak_bar=1.0)
    left_s, soaks_s = joint.truth["heat_soak"]
    high = DRAG_BAR + 0.45 * (JOINING_BAR - DRAG_BAR)
    sway = [
        (left_s + 1.0 + k, high + (2.5 if k // 12 % 2 else -1.5)) for k in range(int(soaks_s - left_s) - 3)
    ]
    corners = [c for c in joint.corners if not left_s < c[0] < soaks_s - 0.2]
    first = next(k for k, corner in enumerate(corners) if corner[0] > left_s)
    drawn = Drawn((*corners[:first], *sway, *corners[first:]), {})
    spans = detect(drawn.samples(), HINTS, GaugeSide.LINE).spans
    assert spans[0].start.at_s == pytest.approx(joint.truth["bead_up"][0], abs=0.3)


def test_without_a_plan_the_longest_pressed_last_is_the_cooling():
    """Check and bead-up are as far apart as those of a short joint, and the plate cools in check and air."""
    drawn, start_s = with_a_check_before(9.0, 12.0, bead_up_s=9.0, cooling_s=60.0)
    samples = [
        replace(s, plate_temperature_degC=220.0 if s.t_s < 15.0 else 216.0 if s.t_s < 185.0 else 205.0)
        for s in drawn.samples()
    ]
    spans = detect(samples, Hints(), GaugeSide.LINE).spans
    assert spans[0].start.at_s == pytest.approx(start_s, abs=0.5)


def test_a_check_and_a_bead_up_are_no_joint_whose_joining_a_gap_hides():
    drawn, start_s = with_a_check_before(9.0, 12.0, soak_bar=6.0)
    silent_s = start_s + 140.0
    samples = [
        replace(s, pressure_bar=None) if silent_s < s.t_s < silent_s + 320.0 else s for s in drawn.samples()
    ]
    spans = detect(samples, HINTS, GaugeSide.LINE).spans
    assert spans[0].start.at_s == pytest.approx(start_s, abs=0.5)
    assert spans[1].start.at_s == pytest.approx(start_s + 26.0, abs=1.0)
    assert {span.start.reason for span in spans[2:]} == {"gap_over_boundary"}
    judgement = judge(samples, joint="1", plan=plan_of(), rig=Rig(name="r", gauge_side=GaugeSide.LINE))
    assert (judgement.verdict, judgement.findings) == (Verdict.UNDECIDED, ())
