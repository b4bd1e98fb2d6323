"""What the carriage shows of the faces, and what is said where it is not fitted."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Judgement, Severity, Verdict
from logger.domain.phase import Phase
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn, draw_joint
from tests.unit.judge.plans import plan_of
from tests.unit.judge.with_carriage import PLATE_MM, fitted, moved

DRAWN = draw_joint()
SAMPLES = fitted(DRAWN, DRAWN.samples())
SOAK_S, OUT_S = DRAWN.truth[Phase.HEAT_SOAK]
TOUCH_S = DRAWN.truth[Phase.PRESSURE_BUILD_UP][0]
COOLING_S = DRAWN.truth[Phase.COOLING][0]


def judged(samples: list[Sample]) -> Judgement:
    return judge(samples, joint="D-1", plan=plan_of(), rig=Rig(name="drawn", gauge_side=GaugeSide.LINE))


def faults(judgement: Judgement) -> set[str]:
    return {finding.code for finding in judgement.findings if finding.severity is Severity.FAULT}


def test_a_good_joint_with_its_carriage_is_good_and_nothing_need_be_said():
    judgement = judged(SAMPLES)
    assert judgement.verdict is Verdict.CONFORMING
    assert judgement.findings == ()
    assert "contact.force.not_observed" not in judgement.information


def test_without_a_carriage_the_record_says_that_contact_was_not_observed():
    judgement = judged(DRAWN.samples())
    assert "contact.force.not_observed" in judgement.information
    assert judgement.verdict is Verdict.CONFORMING


def test_a_carriage_that_never_moves_is_no_witness():
    stuck = [replace(s, carriage_mm=15.0) for s in SAMPLES]
    judgement = judged(stuck)
    assert "contact.force.not_observed" in judgement.information
    assert faults(judgement) == set()


@pytest.mark.parametrize(("by_mm", "expected"), [(2.5, {"heat_soak.contact.lost"}), (0.5, set())])
def test_faces_that_part_during_the_soak_are_a_fault_and_a_tenth_of_spring_is_not(by_mm, expected):
    assert faults(judged(moved(SAMPLES, SOAK_S + 50.0, SOAK_S + 53.0, by_mm))) == expected


def test_the_fault_says_when_and_how_far():
    judgement = judged(moved(SAMPLES, SOAK_S + 50.0, SOAK_S + 53.0, 2.5))
    (finding,) = judgement.findings
    assert finding.start_s == pytest.approx(SOAK_S + 50.0, abs=0.5)
    assert finding.end_s == pytest.approx(SOAK_S + 53.0, abs=0.5)
    assert (finding.measured, finding.unit) == (pytest.approx(2.5, abs=0.1), "mm")


@pytest.mark.parametrize("after_s", [2.0, 30.0])
def test_faces_that_part_after_first_contact_and_close_again_are_a_fault(after_s):
    opened = moved(SAMPLES, TOUCH_S + after_s, TOUCH_S + after_s + 2.0, 3.0)
    assert "pressure_build_up.contact.repeated" in faults(judged(opened))


def test_opening_after_the_release_is_the_end_of_the_work():
    released_s = DRAWN.truth[Phase.COOLING][1]
    assert faults(judged(moved(SAMPLES, released_s + 3.0, 1e9, 50.0))) == set()


def test_pressure_under_which_no_bead_gives_way_is_a_remark():
    stiff = [
        replace(s, carriage_mm=PLATE_MM) if DRAWN.truth[Phase.BEAD_UP][0] < s.t_s < OUT_S else s
        for s in SAMPLES
    ]
    judgement = judged(stiff)
    assert [(f.code, f.severity) for f in judgement.findings] == [("bead_up.travel.none", Severity.REMARK)]
    assert judgement.verdict is Verdict.CONFORMING


def test_pressure_with_the_faces_no_closer_than_the_plate_was_thick_is_a_fault():
    """The carriage at its stop: a perfect curve, and the ends are not pressed."""
    stopped = [replace(s, carriage_mm=max(s.carriage_mm or 0.0, PLATE_MM)) for s in SAMPLES]
    assert "pressure_build_up.travel.short" in faults(judged(stopped))


def heated_twice(*, facing_s: float, with_switch: bool = True) -> list[Sample]:
    """A first heating broken off after ten seconds, then a facing of so many seconds, then the joint.

    The plate dips by three degrees at each contact.
    """
    joint = draw_joint(preparation=False)
    plateau = [(DRAG_BAR, 2.0), (JOINING_BAR, 10.0), (0.0, 20.0), (DRAG_BAR + 3.0, facing_s), (0.0, 20.0)]
    corners, t_s = [(0.0, 0.0), (5.0, 0.0)], 5.0
    for bar, seconds in plateau:
        corners += [(t_s + 0.3, bar), (t_s + 0.3 + seconds, bar)]
        t_s += 0.3 + seconds
    first = (5.0, 5.3 + 2.0 + 0.3 + 10.0)
    later = [(t + t_s + 0.1, bar) for t, bar in joint.corners]
    truth = {name: (a + t_s + 0.1, b + t_s + 0.1) for name, (a, b) in joint.truth.items()}
    drawn = Drawn((*corners, *later), truth)
    samples = fitted(drawn, drawn.samples(), with_switch=with_switch)
    again_s = truth[Phase.BEAD_UP][0]
    heated = [
        replace(s, plate_in=True if with_switch else None, carriage_mm=PLATE_MM - 0.6)
        if first[0] < s.t_s < first[1] + 1.0
        else s
        for s in samples
    ]
    dips = [(first[0], first[1] + 10.0), (again_s, again_s + 30.0)]
    return [
        replace(s, plate_temperature_degC=217.0) if any(a < s.t_s < b for a, b in dips) else s for s in heated
    ]


@pytest.mark.parametrize("with_switch", [True, False])
@pytest.mark.parametrize(("facing_s", "expected"), [(40.0, set()), (1.5, {"bead_up.restart.unfaced"})])
def test_ends_that_touched_the_plate_are_faced_before_they_are_heated_again(facing_s, expected, with_switch):
    assert faults(judged(heated_twice(facing_s=facing_s, with_switch=with_switch))) == expected


def test_pressure_that_dips_with_the_ends_on_the_plate_is_one_heating():
    bead_up_s = DRAWN.truth[Phase.BEAD_UP][0]
    jerked = [replace(s, pressure_bar=JOINING_BAR) if 2.0 < bead_up_s - s.t_s < 4.0 else s for s in SAMPLES]
    on_plate = [
        replace(s, carriage_mm=PLATE_MM, plate_in=True) if 0.0 < bead_up_s - s.t_s < 5.0 else s
        for s in jerked
    ]
    assert "bead_up.restart.unfaced" not in faults(judged(on_plate))


def test_a_carriage_that_stuck_on_its_way_to_the_plate_hides_no_earlier_heating():
    heated = heated_twice(facing_s=1.5)
    start_s = next(s.t_s for s in heated if s.t_s > 30.0 and s.plate_in)
    jerked = [replace(s, pressure_bar=JOINING_BAR) if 0.5 < s.t_s - start_s < 2.5 else s for s in heated]
    assert faults(judged(jerked)) == {"bead_up.restart.unfaced"}


def test_an_earlier_pressing_without_the_plate_is_an_alignment_check():
    heated = heated_twice(facing_s=1.5)
    aligned = [replace(s, plate_in=False, carriage_mm=0.0) if s.t_s < 20.0 else s for s in heated]
    assert faults(judged(aligned)) == set()
