"""From a watched rig to the figures that `check --live` prints."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from statistics import median

from logger.acquire.watching import RigWatch
from logger.domain.channel import Quality, Quantity
from logger.domain.joint import Joint, PipeEnd, WallRule
from logger.domain.joint_plan import JointPlan
from logger.domain.live_check import ChannelCheck, LinkCheck, ShortestLimit
from logger.domain.measurement import measure_of
from logger.domain.phase import Phase
from logger.domain.procedure import Procedure
from logger.domain.rig import Rig
from logger.domain.scale import Scaler
from logger.errors import ProcedureRefusal
from logger.plan.compute import compute_plan

_AMBIENT_DEGC = 20.0


def link_checks(watch: RigWatch) -> list[LinkCheck]:
    """Return each bus with the counts of its requests together."""
    checks = []
    for bus in watch.buses:
        counts = [
            count
            for request, count in zip(watch.requests, watch.counts, strict=True)
            if any(binding.bus == bus.bus for binding in request.bindings)
        ]
        checks.append(
            LinkCheck(
                bus=bus.bus,
                good=sum(count.good for count in counts),
                failed=sum(count.failed for count in counts),
                missed=sum(count.missed for count in counts),
                latency_median_s=median(bus.latencies_s) if bus.latencies_s else None,
                latency_worst_s=max(bus.latencies_s, default=None),
                errors=tuple(bus.errors.most_common(5)),
            )
        )
    return checks


def channel_checks(watch: RigWatch, rig: Rig) -> list[ChannelCheck]:
    """Scale all samples as the recorder does and measure what may be used of them."""
    scaler = Scaler(rig)
    curves: dict[Quantity, list[tuple[float, float]]] = defaultdict(list)
    marks: dict[Quantity, Counter[Quality]] = defaultdict(Counter)
    for raw in watch.samples:
        scaler.read(raw)
        for reading in raw.readings:
            quality = scaler.qualities[reading.quantity]
            channel = rig.channel_of(reading.quantity)
            if quality is not Quality.GOOD:
                marks[reading.quantity][quality] += 1
            elif channel is not None:
                curves[reading.quantity].append((raw.t_ms / 1000, channel.scaling.value_of(reading.raw)))
    return [
        ChannelCheck(
            channel=channel,
            measure=measure_of(*_columns(curves[channel.quantity])),
            marks=tuple(marks[channel.quantity].most_common()),
        )
        for channel in rig.channels
    ]


def _columns(curve: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [t_s for t_s, _ in curve], [value for _, value in curve]


def shortest_limits(
    procedures: Sequence[Procedure], pipes: Sequence[tuple[float, float]]
) -> list[ShortestLimit]:
    """Return the shortest greatest duration of each phase that any procedure sets for any of the pipes."""
    found = [limit for procedure in procedures for pipe in pipes for limit in _limits(procedure, *pipe)]
    shortest = []
    for phase in Phase:
        of_phase = [limit for limit in found if limit.phase is phase]
        if of_phase:
            least = min(of_phase, key=lambda limit: limit.limit_s)
            shortest.append(replace(least, larger=tuple(_larger(least, of_phase))))
    return shortest


def _larger(least: ShortestLimit, limits: Sequence[ShortestLimit]) -> list[ShortestLimit]:
    alike = [
        limit
        for limit in limits
        if (limit.procedure, limit.sdr) == (least.procedure, least.sdr)
        and limit.diameter_mm > least.diameter_mm
    ]
    return sorted(alike, key=lambda limit: limit.diameter_mm)


def _limits(procedure: Procedure, diameter_mm: float, sdr: float) -> Iterator[ShortestLimit]:
    end = PipeEnd(
        material=min(procedure.materials),
        outside_diameter_mm=diameter_mm,
        wall_mm=diameter_mm / sdr,
        wall_rule=WallRule.DN_OVER_SDR,
        sdr=sdr,
    )
    joint = Joint(
        joint="check",
        procedure=procedure.id,
        pipe_a=end,
        pipe_b=end,
        ambient_temperature_degC=_AMBIENT_DEGC,
    )
    try:
        plan = compute_plan(joint, procedure)
    except ProcedureRefusal:
        return
    force_N, rise_s = _edge_force_N(plan), plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max
    for step in plan.steps:
        if step.duration_s.max is not None:
            yield ShortestLimit(
                phase=step.phase,
                limit_s=step.duration_s.max,
                procedure=procedure.id,
                diameter_mm=diameter_mm,
                sdr=sdr,
                edge_force_N=force_N,
                rise_s=rise_s,
            )


def _edge_force_N(plan: JointPlan) -> float | None:
    """Return the least rise of force at the faces, from the most a soak may have; None where not given."""
    least = [plan.step_of(phase).interface_pressure_MPa.min for phase in (Phase.BEAD_UP, Phase.COOLING)]
    given = [pressure for pressure in least if pressure is not None]
    if not given:
        return None
    soak_MPa = plan.step_of(Phase.HEAT_SOAK).interface_pressure_MPa.max or 0.0
    return (min(given) - soak_MPa) * plan.pipe_area_mm2
