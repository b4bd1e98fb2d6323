"""The drag that the curve shows stands beside the confirmed one and decides nothing."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Severity, Verdict
from logger.judge.judge import judge
from tests.drawn import DRAG_BAR, draw_joint
from tests.unit.judge.plans import plan_of


def judged(confirmed_bar):
    plan = replace(plan_of(), drag_pressure_bar=confirmed_bar)
    return judge(draw_joint().samples(), joint="D-1", plan=plan)


def test_the_plateau_of_the_closing_stroke_is_the_detected_drag():
    assert judged(DRAG_BAR).drag_detected_bar == pytest.approx(DRAG_BAR, abs=0.1)


def test_a_drag_that_agrees_is_not_remarked():
    assert not any(".drag." in finding.code for finding in judged(DRAG_BAR).findings)


@pytest.mark.parametrize(("confirmed_bar", "code"), [(5.0, "bead_up.drag.high"), (11.0, "bead_up.drag.low")])
def test_a_drag_that_differs_is_a_remark_and_decides_nothing(confirmed_bar, code):
    judgement = judged(confirmed_bar)
    (finding,) = [finding for finding in judgement.findings if ".drag." in finding.code]
    assert finding.code == code
    assert finding.severity is Severity.REMARK
    assert finding.measured == pytest.approx(DRAG_BAR, abs=0.1)
    assert judgement.verdict is Verdict.CONFORMING
