"""What judging a 15-minute joint and taking one sample cost, beside a yardstick of this machine."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from statistics import median
from time import process_time

from logger.domain.phase import Phase
from logger.judge.judge import judge
from simulators.rig import simulate
from simulators.sensors import Sensors
from tests.bench.joints import DrawnJoint, draw_joint
from tests.bench.run import readings, run_live

LASTS_S = 900.0
REPEATS = 5


def _plain_joint() -> DrawnJoint:
    """The first joint at 10 Hz of one stage, made alone, without its fault; any would do."""
    drawn = (draw_joint(seed, {10.0: 1}) for seed in count(1))
    joint = next(j for j in drawn if j.scenario.operator.joints == 1 and not j.scenario.targets.first_stage_s)
    return replace(joint, scenario=replace(joint.scenario, fault=()))


def timing() -> Iterator[str]:
    """Median of a few runs, each line with its ratio to the yardstick."""
    yard_s = yardstick_s()
    joint = _plain_joint()
    shorter_s = simulate(joint.scenario).duration_s
    cooling_s = joint.scenario.targets.cooling_min_s + LASTS_S - shorter_s
    steps = tuple(
        replace(s, duration_s=replace(s.duration_s, min=cooling_s)) if s.phase is Phase.COOLING else s
        for s in joint.plan.steps
    )
    scenario = joint.scenario.with_changes({"targets": {"cooling_min_s": cooling_s}})
    joint = replace(joint, plan=replace(joint.plan, steps=steps), scenario=scenario)
    trajectory = simulate(joint.scenario)
    samples = readings(joint, Sensors(trajectory, joint.seed))
    starts = {f"{span.phase}.start": span.start_s for span in trajectory.truth}
    judged_s = []
    advanced_s = []
    for _ in range(REPEATS):
        begin = process_time()
        judge(samples, joint="1", plan=joint.plan, rig=joint.rig)
        judged_s.append(process_time() - begin)
        live = run_live(joint, samples, starts)
        advanced_s.append(live.seconds / live.samples)
    yield f"Yardstick: a million additions in a Python loop take {1e3 * yard_s:.1f} ms here"
    yield (
        f"judge, {trajectory.duration_s / 60:.1f} min at 10 Hz ({len(samples)} samples): "
        f"{1e3 * median(judged_s):.1f} ms, {median(judged_s) / yard_s:.2f} yardsticks"
    )
    yield (
        f"advance: {1e6 * median(advanced_s):.1f} us per sample, "
        f"{1e3 * median(advanced_s) / yard_s:.2f} thousandths of it"
    )


def yardstick_s() -> float:
    def once() -> float:
        begin = process_time()
        total = 0.0
        for k in range(1_000_000):
            total += k
        return process_time() - begin

    return median(once() for _ in range(REPEATS))
