"""A recorder that was away from bead-up into cooling: nothing is invented, and the joint still ends."""

from logger.config.joint_file import load_joint
from logger.config.procedures import load_procedure
from logger.config.trace_file import load_trace
from logger.domain.event import JointEnded
from logger.domain.judgement import Verdict
from logger.plan.compute import compute_plan
from logger.session.advance import run_through
from logger.session.state import Setting


def test_a_joint_cut_from_bead_up_into_cooling_ends_with_its_release(trace_of_scenario, demo_joint_file):
    joint = load_joint(demo_joint_file)
    plan = compute_plan(joint, load_procedure(joint.procedure))
    samples = load_trace(trace_of_scenario("clean"))
    last = samples[-1]
    idle = [type(last)(t_s=last.t_s + 0.1 * k, pressure_bar=0.0, plate_in=False) for k in range(1, 2000)]
    seen = [sample for sample in samples if not 130.0 < sample.t_s < 250.0]
    session, events = run_through(Setting(joint="K-117", plan=plan), [*seen, *idle])
    assert session.is_over
    (ended,) = [event for event in events if isinstance(event, JointEnded)]
    assert ended.judgement.verdict is Verdict.UNDECIDED
