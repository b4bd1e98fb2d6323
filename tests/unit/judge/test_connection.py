"""A gauge that may be shut off from the cylinders: what it does not show is not observed, never low."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Judgement, Missing, Settles, Severity, Verdict
from logger.domain.phase import Phase
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from tests.drawn import DRAG_BAR, draw_joint
from tests.unit.judge.plans import JOINING, around, plan_of
from tests.unit.judge.with_carriage import fitted, moved

DRAWN = draw_joint()
SAMPLES = DRAWN.samples()
COOLING_S = DRAWN.truth[Phase.COOLING][0]
SHUT_OFF = Rig(name="drawn", gauge_side=GaugeSide.LINE, check_valve=True)
CONNECTED = replace(SHUT_OFF, check_valve=False)
UNDECLARED = replace(SHUT_OFF, check_valve=None)
AT_CYLINDER = replace(SHUT_OFF, gauge_side=GaugeSide.CLOSING)


def judged(samples: list[Sample], rig: Rig, plan=None) -> Judgement:
    return judge(samples, joint="D-1", plan=plan or plan_of(), rig=rig)


def faults(judgement: Judgement) -> set[str]:
    return {finding.code for finding in judgement.findings if finding.severity is Severity.FAULT}


def at(bar: float, from_s: float, to_s: float = 1e9) -> list[Sample]:
    """The gauge at another pressure between two times."""
    return [
        replace(s, pressure_bar=bar + (s.pressure_bar or 0.0) * 1e-4) if from_s < s.t_s < to_s else s
        for s in SAMPLES
    ]


def test_a_gauge_that_falls_to_nothing_behind_a_declared_valve_is_undecided():
    judgement = judged(at(0.0, COOLING_S + 100.0), SHUT_OFF)
    assert judgement.verdict is Verdict.UNDECIDED
    (entry,) = judgement.undecided
    assert entry.code == "cooling.pressure.not_connected"
    assert (entry.missing, entry.settles) == (Missing.SENSOR, Settles.CLOSING_SIDE_GAUGE)
    assert faults(judgement) == set()
    assert (judgement.phases[-1].end.at_s, judgement.phases[-1].end.reason) == (None, "not_connected")


@pytest.mark.parametrize(("rig", "told"), [(CONNECTED, False), (AT_CYLINDER, False), (UNDECLARED, True)])
def test_where_nothing_can_shut_it_off_or_nobody_said_so_it_is_an_early_release(rig, told):
    judgement = judged(at(0.0, COOLING_S + 100.0), rig)
    assert faults(judgement) == {"cooling.duration.short"}
    assert ("cooling.connection.not_declared" in judgement.information) is told


@pytest.mark.parametrize(("opened_after_s", "expected"), [(10.0, {"cooling.duration.short"}), (250.0, set())])
def test_a_carriage_that_opens_before_cooling_is_due_was_released(opened_after_s, expected):
    released_s = COOLING_S + 100.0
    samples = moved(fitted(DRAWN, at(0.0, released_s)), released_s + opened_after_s, 1e9, 40.0)
    judgement = judged(samples, SHUT_OFF)
    assert faults(judgement) == expected


@pytest.mark.parametrize("bar", [0.0, 0.5])
def test_a_valve_shut_for_a_while_is_no_low_pressure_and_no_pass(bar):
    judgement = judged(at(bar, COOLING_S + 100.0, COOLING_S + 106.0), SHUT_OFF)
    assert judgement.verdict is Verdict.UNDECIDED
    assert judgement.reasons == ("cooling.pressure.not_connected",)


def test_pressure_that_is_lost_but_shown_is_low_whatever_is_declared():
    judgement = judged(at(18.0, COOLING_S + 100.0, COOLING_S + 200.0), SHUT_OFF)
    assert faults(judgement) == {"cooling.pressure.low"}


TWO_STEPS = plan_of(cooling=((JOINING, 58.0), (around(14.0, 1.5), 240.0)))


def dual(lowest_bar: float) -> list[Sample]:
    """Second stage at 14 bar from a minute on, the let-down to it passing through `lowest_bar`."""
    joint = draw_joint(cooling_s=60.0)
    *before, (released_s, top_bar), (_, _), (_, _) = joint.corners
    way = [(released_s, top_bar), (released_s + 2.0, lowest_bar), (released_s + 3.5, lowest_bar)]
    held = [
        (released_s + 4.0, 14.0),
        (released_s + 252.0, 14.0),
        (released_s + 252.8, 0.0),
        (released_s + 270.0, 0.0),
    ]
    return replace(joint, corners=(*before, *way, *held)).samples()


@pytest.mark.parametrize(
    ("lowest_bar", "expected"),
    [(14.0, set()), (DRAG_BAR + 1.0, set()), (DRAG_BAR - 1.5, {"cooling.pressure.low"})],
)
def test_the_let_down_to_a_second_stage_must_not_pass_below_drag(lowest_bar, expected):
    judgement = judged(dual(lowest_bar), CONNECTED, TWO_STEPS)
    assert faults(judgement) == expected, judgement.findings
    if expected:
        (finding,) = judgement.findings
        assert finding.limit == DRAG_BAR
    assert judgement.phases[-1].duration_s == pytest.approx(312.0, abs=2.0), "it was no release"
