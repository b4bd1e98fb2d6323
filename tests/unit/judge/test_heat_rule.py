"""A contact before the plate was hot through is a remark; where nobody can know it there is none."""

from dataclasses import replace

import pytest

from logger.config.joint_file import load_joint
from logger.config.procedures import load_procedure, procedure_of
from logger.domain.band import NO_BAND, Band
from logger.domain.heat_through import HEAT_THROUGH, Heat, PlateHeat, Zone
from logger.domain.judgement import Severity, Verdict
from logger.domain.plate_known import NOTHING_KNOWN, PlateKnown
from logger.judge.heat_rule import SHORT
from logger.judge.judge import judge
from logger.plan.compute import compute_plan
from tests.drawn import draw_joint
from tests.system.processes import JOINT_FILE
from tests.unit.config.test_company_procedure import TEXT
from tests.unit.judge.plans import plan_of
from tests.unit.judge.test_judge import LINE_SIDE

DRAWN = draw_joint()
CONTACT_S = DRAWN.truth["bead_up"][0]
SAMPLES = DRAWN.samples()
PLAN = replace(plan_of(), heat_through_s=HEAT_THROUGH)


def seen_before(in_band_s: float) -> PlateKnown:
    """The switch-on seen, and the plate in its band so long before the joint was opened."""
    heat = PlateHeat(
        low_degC=210.0, zone=Zone.IN, zone_since_s=-in_band_s, last_s=-1.0, is_switch_on_seen=True,
        in_band_since_s=-in_band_s,
    )  # fmt: skip
    return PlateKnown(before=heat)


def judged(known=NOTHING_KNOWN, samples=SAMPLES, plan=PLAN):
    return judge(samples, joint="D-1", plan=plan, rig=LINE_SIDE, plate_known=known)


def short(judgement):
    return [finding for finding in judgement.findings if finding.code == SHORT]


def test_a_contact_too_early_is_a_remark_and_changes_no_verdict():
    judgement = judged(seen_before(120.0))
    (finding,) = short(judgement)
    assert finding.severity is Severity.REMARK
    assert finding.measured == pytest.approx(120.0 + CONTACT_S, abs=1.0)
    assert (finding.limit, finding.unit) == (600.0, "s")
    assert "DVS 2207" in finding.clause
    assert "from memory" in finding.clause
    assert judgement.verdict is judged().verdict is Verdict.CONFORMING
    assert judgement.measures.plate.heat == Heat.COUNTING


def test_a_plate_that_was_through_gives_none():
    judgement = judged(seen_before(590.0))
    assert not short(judgement)
    assert judgement.measures.plate.heat == Heat.THROUGH


def test_where_the_switch_on_was_not_seen_there_is_none():
    judgement = judged()
    assert not short(judgement)
    assert judgement.measures.plate.heat == Heat.NOT_OBSERVED
    blind = [replace(sample, plate_temperature_degC=None) for sample in SAMPLES]
    assert not short(judged(seen_before(120.0), blind))
    assert judged(samples=blind).measures.plate.heat == Heat.NO_READING


def test_a_plan_from_before_it_was_counted_is_judged_as_it_was():
    judgement = judged(seen_before(120.0), plan=replace(PLAN, heat_through_s=NO_BAND))
    assert not short(judgement)
    assert judgement.measures.plate.heat == ""


def test_the_time_of_the_procedure_wins():
    own = replace(PLAN, heat_through_s=Band(min=60.0, source=HEAT_THROUGH.source))
    assert not short(judged(seen_before(120.0), plan=own))


def test_a_procedure_file_gives_its_own_time_and_a_built_in_one_the_general():
    joint = replace(load_joint(JOINT_FILE), options=frozenset())
    general = compute_plan(joint, load_procedure(joint.procedure)).heat_through_s
    assert general is HEAT_THROUGH
    company = procedure_of(TEXT, "company")
    own = compute_plan(replace(joint, procedure=company.id), company).heat_through_s
    assert own.min == 900.0
    assert own.source.text == "as the workshop has always done it"
