"""Short excursions within a declared dwell are remarks, but never while the weld is young."""

from dataclasses import replace

import pytest

from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement, Severity, Verdict
from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.judge.judge import judge
from tests.drawn import JOINING_BAR, draw_joint
from tests.unit.judge.plans import plan_of

DRAWN = draw_joint()
SAMPLES = DRAWN.samples()
TOUCH_S = DRAWN.truth[Phase.PRESSURE_BUILD_UP][0]


def with_dwell(phase: Phase, dwell_s: float, after_s: float = 0.0) -> JointPlan:
    plan = plan_of()
    steps = (
        replace(s, dwell_s=dwell_s, dwell_after_s=after_s) if s.phase is phase else s for s in plan.steps
    )
    return replace(plan, steps=tuple(steps))


def shot(from_s: float, seconds: float, by_bar: float = 4.0) -> list[Sample]:
    return [
        replace(s, pressure_bar=(s.pressure_bar or 0.0) + by_bar) if from_s < s.t_s < from_s + seconds else s
        for s in SAMPLES
    ]


def severities(judgement: Judgement) -> list[tuple[str, Severity]]:
    return [(finding.code, finding.severity) for finding in judgement.findings]


def judged(samples: list[Sample], plan: JointPlan) -> Judgement:
    return judge(samples, joint="D-1", plan=plan)


@pytest.mark.parametrize(
    ("since_contact_s", "seconds", "severity"),
    [
        (150.0, 3.0, Severity.REMARK),
        (150.0, 12.0, Severity.FAULT),
        (30.0, 3.0, Severity.FAULT),
    ],
    ids=["short and late", "too long", "short but early"],
)
def test_a_dwell_in_cooling_counts_from_a_declared_time_after_contact(since_contact_s, seconds, severity):
    judgement = judged(shot(TOUCH_S + since_contact_s, seconds), with_dwell(Phase.COOLING, 5.0, after_s=60.0))
    assert severities(judgement) == [("cooling.pressure.high", severity)]
    assert judgement.verdict == ("conforming" if severity is Severity.REMARK else "nonconforming")


def test_without_a_declared_dwell_every_excursion_is_a_fault():
    assert severities(judged(shot(TOUCH_S + 150.0, 3.0), plan_of())) == [
        ("cooling.pressure.high", Severity.FAULT)
    ]


def test_a_remark_within_the_dwell_hides_no_lasting_deviation_elsewhere():
    """Joining pressure by a third of a bar above the band: every single median is in the noise."""
    noisy = draw_joint(joining_bar=JOINING_BAR + 1.75, bead_up_bar=JOINING_BAR).samples(noise_bar=0.5)
    shots = [
        replace(s, pressure_bar=(s.pressure_bar or 0.0) + 6.0) if 0.0 < s.t_s - TOUCH_S - 150.0 < 3.0 else s
        for s in noisy
    ]
    judgement = judged(shots, with_dwell(Phase.COOLING, 5.0, after_s=60.0))
    assert judgement.verdict is Verdict.NONCONFORMING
    assert ("cooling.pressure.high", Severity.REMARK) in severities(judgement)
    assert ("cooling.pressure.high", Severity.FAULT) in severities(judgement)


def test_a_dwell_before_contact_needs_no_early_part():
    bead_up_s = DRAWN.truth[Phase.BEAD_UP][0]
    plan = with_dwell(Phase.BEAD_UP, 4.0)
    assert severities(judged(shot(bead_up_s + 12.0, 3.0), plan)) == [
        ("bead_up.pressure.high", Severity.REMARK)
    ]
