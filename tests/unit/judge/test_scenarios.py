"""Every shipped scenario, offline: the verdict and the codes that were injected, and no fault besides."""

import csv
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from logger.config.joint_file import load_joint
from logger.config.procedures import load_procedure
from logger.config.trace_file import load_trace
from logger.domain.event import PhaseChanged
from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement, Severity
from logger.domain.phase import PHASES, Phase
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from logger.plan.compute import compute_plan
from logger.session.advance import run_through
from logger.session.state import Setting
from simulators.scenario import load_scenario, scenario_names

LINE_SIDE = Rig(name="simulated", gauge_side=GaugeSide.LINE)
BOUNDARY_S = 0.5
"""Five intervals at the 10 Hz of the traces; the gauge itself lags the cylinder by 0.1 s."""
UNSEEN = ("stuck-sensor", "wire-break")
"""Here the gauge says nothing while the faces meet."""
FITTED = ("every channel", "pressure and plate temperature")
NEEDS_CARRIAGE = ("contact-lost-in-soak", "second-closing", "restart-unfaced")
"""What went wrong here shows at the carriage alone; without it nothing may be called, or left undecided."""
SHUT_OFF = ("pack-stopped",)
"""Here a declared valve parts the gauge from the cylinders in cooling."""
SEEN_BY_CARRIAGE = (".contact.", ".restart.", ".travel.")


@cache
def plan_in(joint_file: Path) -> JointPlan:
    joint = load_joint(joint_file)
    return compute_plan(joint, load_procedure(joint.procedure))


@cache
def samples_in(trace_file: Path, fitted: str) -> tuple[Sample, ...]:
    samples = load_trace(trace_file)
    if fitted == "every channel":
        return tuple(samples)
    return tuple(replace(sample, carriage_mm=None, plate_in=None) for sample in samples)


@cache
def judged(trace_file: Path, fitted: str, joint_file: Path) -> Judgement:
    plan = plan_in(joint_file)
    rig = replace(LINE_SIDE, check_valve=load_scenario(trace_file.stem).rig.check_valve)
    return judge(samples_in(trace_file, fitted), joint="K-117", plan=plan, rig=rig)


@cache
def live_changes(trace_file: Path, fitted: str, joint_file: Path) -> tuple[PhaseChanged, ...]:
    setting = Setting(joint="K-117", plan=plan_in(joint_file), rig=LINE_SIDE)
    _, events = run_through(setting, samples_in(trace_file, fitted))
    return tuple(event for event in events if isinstance(event, PhaseChanged))


def truth_of(trace_file: Path) -> dict[str, tuple[float, float]]:
    with trace_file.with_suffix(".truth.csv").open(encoding="utf-8") as file:
        return {row["phase"]: (float(row["start_s"]), float(row["end_s"])) for row in csv.DictReader(file)}


@pytest.fixture(scope="module", params=scenario_names())
def name(request):
    return request.param


@pytest.fixture(scope="module", params=FITTED)
def fitted(request):
    return request.param


@pytest.fixture
def trace_file(name, trace_of_scenario):
    return trace_of_scenario(name)


@pytest.fixture
def judgement(trace_file, fitted, demo_joint_file) -> Judgement:
    return judged(trace_file, fitted, demo_joint_file)


@pytest.fixture
def changes(name, trace_file, fitted, demo_joint_file) -> tuple[PhaseChanged, ...]:
    if name == "two-joints":
        pytest.skip("live, the first of them ends the joint")
    return live_changes(trace_file, fitted, demo_joint_file)


def test_a_verdict_and_codes_are_what_was_injected(name, judgement, fitted):
    if name in NEEDS_CARRIAGE and fitted != "every channel":
        pytest.skip("the gauge does not show it")
    scenario = load_scenario(name)
    codes = {finding.code for finding in judgement.findings}
    faults = {finding.code for finding in judgement.findings if finding.severity is Severity.FAULT}
    assert judgement.verdict == scenario.expected_verdict, (codes, judgement.reasons)
    assert set(scenario.expected_codes) <= codes
    assert faults <= set(scenario.expected_codes)


def test_where_no_carriage_shows_contact_the_record_says_so_and_calls_no_fault_of_it(judgement, fitted):
    if fitted == "every channel":
        assert "contact.force.not_observed" not in judgement.information or judgement.reasons
    else:
        assert "contact.force.not_observed" in judgement.information
        codes = {finding.code for finding in judgement.findings}
        assert not [code for code in codes if any(part in code for part in SEEN_BY_CARRIAGE)]


def test_an_undecided_verdict_says_why(judgement):
    assert judgement.reasons == tuple(entry.code for entry in judgement.undecided)
    if judgement.verdict == "undecided":
        assert judgement.reasons
    if judgement.verdict == "conforming":
        assert judgement.reasons == ()


def test_every_phase_is_there_once_in_order_each_ending_where_the_next_begins(name, judgement):
    assert tuple(span.phase for span in judgement.phases) == PHASES
    for span, following in pairwise(judgement.phases):
        assert span.end == following.start
    times = [span.start.at_s for span in judgement.phases] + [judgement.phases[-1].end.at_s]
    seen = [time for time in times if time is not None]
    assert seen == sorted(seen)
    assert seen == times or name in (*UNSEEN, *SHUT_OFF)


def test_boundaries_are_where_the_simulated_rig_had_them(name, fitted, judgement, trace_file):
    if name == "second-closing" and fitted != "every channel":
        pytest.skip("the gauge shows the second closing alone")
    truth = truth_of(trace_file)
    for span in judgement.phases:
        for boundary, true_s in zip((span.start, span.end), truth[span.phase], strict=True):
            if boundary.at_s is None:
                assert boundary.reason
            else:
                assert boundary.at_s == pytest.approx(true_s, abs=BOUNDARY_S), span


def test_the_live_phases_come_in_order_once_withdrawn_calls_are_taken_back(changes):
    called: list[Phase | None] = []
    for change in changes:
        if change.withdrawn:
            while called and called[-1] != change.after:
                called.pop()
        else:
            called.append(change.after)
    assert tuple(called) == (*PHASES, None)
    assert changes[-1].cause == "released"
    assert all(change.at_s <= change.seen_at_s for change in changes)
    assert all(b.before == a.after for a, b in pairwise(changes))


def test_what_every_gauge_shows_is_called_live_within_three_seconds(name, changes, trace_file):
    truth = truth_of(trace_file)
    for phase in ["bead_up"] if name in UNSEEN else ["bead_up", "cooling"]:
        called_s = [change.seen_at_s for change in changes if change.after == phase]
        assert min(abs(seen_s - truth[phase][0]) for seen_s in called_s) <= 3.0
