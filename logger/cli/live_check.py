"""From a watched rig to the figures that `check --live` prints."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from statistics import median

from logger.acquire.watching import RigWatch
from logger.domain.channel import Quality, Quantity
from logger.domain.joint import Joint, PipeEnd, WallRule
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
    shortest: dict[Phase, ShortestLimit] = {}
    for procedure in procedures:
        material = min(procedure.materials)
        for diameter_mm, sdr in pipes:
            for phase, limit_s in _greatest_durations(procedure, material, diameter_mm, sdr):
                if phase not in shortest or limit_s < shortest[phase].limit_s:
                    shortest[phase] = ShortestLimit(
                        phase=phase, limit_s=limit_s, procedure=procedure.id, diameter_mm=diameter_mm, sdr=sdr
                    )
    return [shortest[phase] for phase in Phase if phase in shortest]


def _greatest_durations(
    procedure: Procedure, material: str, diameter_mm: float, sdr: float
) -> list[tuple[Phase, float]]:
    end = PipeEnd(
        material=material,
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
        return []
    return [(step.phase, step.duration_s.max) for step in plan.steps if step.duration_s.max is not None]
