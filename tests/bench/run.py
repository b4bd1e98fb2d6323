"""One joint through simulator, recorder, judge and baselines; the result is plain values."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from time import process_time
from typing import Any

from logger.domain.channel import Quantity
from logger.domain.event import PhaseChanged
from logger.domain.judgement import Judgement
from logger.domain.phase import PHASES
from logger.domain.sample import RawReading, RawSample, Sample
from logger.domain.scale import samples_of
from logger.judge.judge import judge
from logger.session.advance import advance
from logger.session.state import Setting, opened
from simulators.rig import simulate
from simulators.sensors import Sensors
from tests.bench.baselines import Found, by_ruptures, by_thresholds, durations_called
from tests.bench.joints import DrawnJoint, draw_joint
from tests.bench.sketch import sketch
from tests.bench.truth import BOUNDARIES, State, TrueBoundary, limits_of, true_boundaries


@dataclass(frozen=True, kw_only=True)
class Edge:
    """One boundary: where it is, whether it can be seen, and where it was put."""

    name: str
    true_s: float
    edge_sigmas: float
    clear: bool
    at_s: float | None
    u_s: float | None
    reason: str

    @property
    def error_s(self) -> float | None:
        return None if self.at_s is None else self.at_s - self.true_s


@dataclass(frozen=True, kw_only=True)
class Live:
    """The online path: what it cost, the phases it called in the end, how late it called each."""

    samples: int
    seconds: float
    in_order: bool
    withdrawn: int
    delay_s: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class Result:
    joint: DrawnJoint
    edges: tuple[Edge, ...]
    limits: dict[str, State]
    called: frozenset[str]
    undecided: tuple[str, ...]
    verdict: str
    other_joints: int
    samples: int
    judge_s: float
    live: Live | None
    baselines: dict[str, Found] = field(default_factory=dict)
    baseline_called: dict[str, frozenset[str]] = field(default_factory=dict)
    baseline_s: dict[str, float] = field(default_factory=dict)
    """Processor time of each method of comparison."""
    change_points: int | None = None
    unplanned: "Unplanned | None" = None

    @property
    def readings_lost(self) -> bool:
        """Whether readings were silent, stuck, wrong or unconnected for a while."""
        kinds = ("dropout", "spikes", "stuck_sensor", "wire_break", "pack_stopped")
        return bool(self.joint.scenario.faults(*kinds))

    @property
    def misordered(self) -> bool:
        placed = [edge.at_s for edge in self.edges if edge.at_s is not None]
        return any(b <= a for a, b in pairwise(placed))


@dataclass(frozen=True, kw_only=True)
class Unplanned:
    """The same curve without a plan, of which phases alone are found."""

    edges: tuple[Edge, ...]
    other_joints: int


def without_plan(results: Sequence[Result]) -> list[Result]:
    """The results that were also found without a plan, with what was found then."""
    return [
        replace(result, edges=result.unplanned.edges, other_joints=result.unplanned.other_joints, live=None)
        for result in results
        if result.unplanned is not None
    ]


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What to run besides the judgement, per joint. `rates_hz` None is the default mix."""

    live: bool = True
    ruptures: bool = False
    with_plan: bool = True
    unplanned: bool = False
    rates_hz: tuple[float, ...] | None = None


def run_joint(seed: int, wanted: Wanted) -> Result:
    """Draw, simulate, read and judge the joint of this seed."""
    rates = dict.fromkeys(wanted.rates_hz, 1) if wanted.rates_hz else None
    joint = draw_joint(seed, rates)
    trajectory = sketch(joint.scenario, seed) if joint.sketched else simulate(joint.scenario)
    samples = readings(joint, Sensors(trajectory, seed))
    truth = true_boundaries(joint, trajectory)
    begin = process_time()
    judgement = judge(samples, joint="1", plan=joint.plan if wanted.with_plan else None, rig=joint.rig)
    judge_s = process_time() - begin
    edges = _edges(truth, judgement)
    true_s = {edge.name: edge.true_s for edge in edges}
    # Live, the first of two joints ends the recording of a joint.
    is_followed = wanted.live and joint.scenario.operator.joints == 1
    beside = _baselines(joint, samples, true_s, ruptures=wanted.ruptures)
    return Result(
        joint=joint,
        edges=edges,
        limits=limits_of(joint, trajectory),
        called=frozenset(finding.code for finding in judgement.findings),
        undecided=judgement.reasons,
        verdict=str(judgement.verdict),
        other_joints=len(judgement.other_joints),
        samples=len(samples),
        judge_s=judge_s,
        live=run_live(joint, samples, true_s, with_plan=wanted.with_plan) if is_followed else None,
        unplanned=_unplanned(joint, samples, truth) if wanted.unplanned else None,
        **beside,
    )


def _unplanned(joint: DrawnJoint, samples: Sequence[Sample], truth: Sequence[TrueBoundary]) -> Unplanned:
    judgement = judge(samples, joint="1", plan=None, rig=joint.rig)
    return Unplanned(edges=_edges(truth, judgement), other_joints=len(judgement.other_joints))


def _edges(truth: Sequence[TrueBoundary], judgement: Judgement) -> tuple[Edge, ...]:
    boundaries = [span.start for span in judgement.phases] + [judgement.phases[-1].end]
    return tuple(
        Edge(
            name=true.name,
            true_s=true.at_s,
            edge_sigmas=true.edge_sigmas,
            clear=true.clear,
            at_s=found.at_s,
            u_s=found.u_s,
            reason=found.reason,
        )
        for true, found in zip(truth, boundaries, strict=True)
    )


def readings(joint: DrawnJoint, sensors: Sensors) -> list[Sample]:
    """Poll the simulated device at the joint's rate, from a phase of its own; silence brings no sample."""
    interval_ms = round(1000 / joint.rate_hz)
    polls = []
    for t_ms in range(joint.seed % interval_ms, int(sensors.trajectory.duration_s * 1000), interval_ms):
        reading = sensors.read(t_ms / 1000)
        if reading is None:
            continue
        raws = [
            RawReading(quantity=Quantity.PRESSURE, raw=reading.pressure_counts),
            RawReading(quantity=Quantity.PLATE_TEMPERATURE, raw=reading.temperature_counts),
        ]
        if joint.with_carriage:
            raws.append(RawReading(quantity=Quantity.CARRIAGE, raw=reading.carriage_counts))
        if joint.with_plate_in:
            raws.append(RawReading(quantity=Quantity.PLATE_IN, raw=reading.plate_in))
        polls.append(RawSample(t_ms=t_ms, half_width_ms=0, readings=tuple(raws)))
    return samples_of(polls, joint.rig)


def run_live(
    joint: DrawnJoint, samples: Sequence[Sample], true_s: dict[str, float], *, with_plan: bool = True
) -> Live:
    """Advance sample by sample as the recorder does; time spent includes nothing else."""
    state = opened(Setting(joint="1", plan=joint.plan if with_plan else None, rig=joint.rig))
    changes: list[PhaseChanged] = []
    used, seconds = 0, 0.0
    begin = process_time()
    for sample in samples:
        state, events = advance(state, sample)
        if state.is_over:
            # This call judged the whole curve, which is timed by itself.
            break
        used, seconds = used + 1, process_time() - begin
        changes += [event for event in events if isinstance(event, PhaseChanged)]
    called: list[PhaseChanged] = []
    for change in changes:
        if change.withdrawn:
            while called and called[-1].after != change.after:
                called.pop()
        elif change.after is not None:
            called.append(change)
    phases = [change.after for change in called][-len(PHASES) :]
    delay_s = {}
    for change in called[-len(PHASES) :]:
        name = f"{change.after}.start"
        if name in BOUNDARIES:
            delay_s[name] = change.seen_at_s - true_s[name]
    return Live(
        samples=used,
        seconds=seconds,
        in_order=phases == list(PHASES),
        withdrawn=sum(change.withdrawn for change in changes),
        delay_s=delay_s,
    )


def _baselines(
    joint: DrawnJoint, samples: Sequence[Sample], true_s: dict[str, float], *, ruptures: bool
) -> dict[str, Any]:
    """The fields of a result that are about the methods of comparison."""
    rows = [(s.t_s, s.pressure_bar) for s in samples if s.pressure_bar is not None]
    t_s, bars = [t for t, _ in rows], [bar for _, bar in rows]
    begin = process_time()
    found = by_thresholds(t_s, bars, joint.plan)
    fields: dict[str, Any] = {
        "baselines": {"thresholds": found},
        "baseline_s": {"thresholds": process_time() - begin},
        "baseline_called": {"thresholds": durations_called(found, joint.plan)},
    }
    if ruptures:
        begin = process_time()
        nearest, fields["change_points"] = by_ruptures(t_s, bars, joint.noise_bar, true_s)
        fields["baseline_s"]["ruptures"] = process_time() - begin
        fields["baselines"]["ruptures"] = nearest
    return fields
