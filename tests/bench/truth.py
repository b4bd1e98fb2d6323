"""What is true of a simulated joint: its boundaries, whether they can be seen, and which limits it breaks."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from logger.domain.phase import Phase
from simulators.hydraulics import STEP_S
from simulators.rig import Trajectory
from tests.bench.faults import Clearance
from tests.bench.joints import DrawnJoint

BOUNDARIES = (
    "bead_up.start",
    "heat_soak.start",
    "changeover.start",
    "pressure_build_up.start",
    "cooling.start",
    "cooling.end",
)
CLEAR_SIGMAS = 3.6
NEAR_GAP_S = 1.0
State = Literal["broken", "kept", "near"]
"""A limit is broken by a clear margin, kept, or broken by less than could be called."""


@dataclass(frozen=True)
class TrueBoundary:
    """`clear`: an edge of 3.6 sigma of the noise or shown by the carriage, with no gap within 1 s."""

    name: str
    at_s: float
    edge_sigmas: float
    clear: bool


def true_boundaries(joint: DrawnJoint, trajectory: Trajectory) -> tuple[TrueBoundary, ...]:
    """The six boundaries in order."""
    times = [span.start_s for span in trajectory.truth] + [trajectory.truth[-1].end_s]
    gaps = list(_gaps(trajectory))
    found = []
    for name, at_s in zip(BOUNDARIES, times, strict=True):
        sigmas = _edge_bar(trajectory, at_s) / joint.noise_bar
        by_carriage = joint.with_carriage and name in ("changeover.start", "pressure_build_up.start")
        near_gap = any(a - NEAR_GAP_S <= at_s <= b + NEAR_GAP_S for a, b in gaps)
        found.append(
            TrueBoundary(name, at_s, sigmas, (sigmas >= CLEAR_SIGMAS or by_carriage) and not near_gap)
        )
    return tuple(found)


def _edge_bar(trajectory: Trajectory, at_s: float) -> float:
    """How far the noise-free gauge moves from half a second before to a second after, ripple taken off."""
    part = trajectory.gauge_bar[trajectory.index_at(at_s - 0.5) : trajectory.index_at(at_s + 1.0) + 1]
    return max(0.0, max(part) - min(part) - 2.0 * trajectory.scenario.rig.ripple_bar)


def _gaps(trajectory: Trajectory) -> Iterator[tuple[float, float]]:
    for fault in trajectory.scenario.faults("dropout", "stuck_sensor", "wire_break"):
        first_s = trajectory.start_of(fault.phase) + fault.after_s
        for number in range(fault.count):
            start_s = first_s + number * fault.every_s
            yield start_s, start_s + fault.duration_s


def limits_of(joint: DrawnJoint, trajectory: Trajectory) -> dict[str, State]:
    """Every code, and whether this joint breaks its limit, by the noise-free pressure at the cylinder."""
    plan = joint.plan
    clear = Clearance(net_bar=joint.net_bar, noise_bar=joint.noise_bar, interval_s=1.0 / joint.rate_hz)
    span = {Phase(s.phase): (s.start_s, s.end_s) for s in trajectory.truth}
    lasts = {phase: end - start for phase, (start, end) in span.items()}
    soak_s = plan.step_of(Phase.HEAT_SOAK).duration_s.min or 0.0
    build_up_s = plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max or 0.0
    states: dict[str, State] = {
        "bead_up.duration.long": _above(lasts[Phase.BEAD_UP], max(30.0, 0.5 * soak_s), clear.seconds),
        "heat_soak.duration.short": _above(soak_s, lasts[Phase.HEAT_SOAK], clear.seconds),
        "heat_soak.duration.long": _above(lasts[Phase.HEAT_SOAK], 1.25 * soak_s, clear.seconds),
        "changeover.duration.long": _above(
            lasts[Phase.CHANGEOVER], plan.step_of(Phase.CHANGEOVER).duration_s.max or 0.0, clear.seconds
        ),
        "pressure_build_up.duration.long": _above(lasts[Phase.PRESSURE_BUILD_UP], build_up_s, clear.seconds),
        "pressure_build_up.duration.short": _above(
            0.2 * build_up_s, lasts[Phase.PRESSURE_BUILD_UP], clear.seconds
        ),
        "cooling.duration.short": _above(
            plan.step_of(Phase.COOLING).duration_s.min or 0.0, lasts[Phase.COOLING], clear.seconds
        ),
    }
    states |= _plate(joint)
    states |= _pressures(joint, trajectory, clear, span)
    return states


def _above(value: float, limit: float, margin: float) -> State:
    if value <= limit:
        return "kept"
    return "broken" if value >= limit + margin else "near"


def _plate(joint: DrawnJoint) -> dict[str, State]:
    off = sum(fault.magnitude for fault in joint.scenario.faults("plate_setting"))
    return {
        "plate.temperature.low": "broken" if off < 0 else "kept",
        "plate.temperature.high": "broken" if off > 0 else "kept",
    }


def _pressures(
    joint: DrawnJoint, trajectory: Trajectory, clear: Clearance, span: dict[Phase, tuple[float, float]]
) -> dict[str, State]:
    plan = joint.plan
    bead_s, soak_s, cool_s = span[Phase.BEAD_UP], span[Phase.HEAT_SOAK], span[Phase.COOLING]
    bead = _cylinder(trajectory, bead_s[0] + min(4.0, (bead_s[1] - bead_s[0]) / 2), bead_s[1])
    soak = _cylinder(trajectory, soak_s[0] + 5.0, soak_s[1] - 0.5)
    first_s = 4.0 if joint.scenario.faults("overshoot") else 1.0
    needed_s = plan.step_of(Phase.COOLING).duration_s.min or 0.0
    cooling = _cylinder(trajectory, cool_s[0] + first_s, min(cool_s[1], cool_s[0] + needed_s))
    peak = (
        _cylinder(trajectory, cool_s[0] - 0.5, cool_s[0] + 4.0) if joint.scenario.faults("overshoot") else []
    )
    bead_band = plan.step_of(Phase.BEAD_UP).gauge_pressure_bar
    band = plan.step_of(Phase.COOLING).gauge_pressure_bar
    soak_max = plan.step_of(Phase.HEAT_SOAK).gauge_pressure_bar.max
    return {
        "bead_up.pressure.low": _outside(bead, clear, low=bead_band.min),
        "bead_up.pressure.high": _outside(bead, clear, high=bead_band.max),
        "heat_soak.pressure.high": _outside(soak, clear, high=soak_max),
        "cooling.pressure.low": _outside(cooling, clear, low=band.min),
        "cooling.pressure.high": _outside(cooling, clear, high=band.max),
        "pressure_build_up.pressure.high": _outside(peak, clear, high=band.max),
    }


def _cylinder(trajectory: Trajectory, from_s: float, to_s: float) -> list[float]:
    return list(trajectory.cylinder_bar[trajectory.index_at(from_s) : trajectory.index_at(to_s)])


def _outside(
    bars: list[float], clear: Clearance, *, low: float | None = None, high: float | None = None
) -> State:
    """Broken where the pressure stays beyond limit and margin for long enough to be read several times."""
    beyond = [low - bar for bar in bars] if low is not None else [bar - (high or 0.0) for bar in bars]
    far_s = sum(excess >= clear.bar for excess in beyond) * STEP_S
    if far_s >= max(0.7, 6.0 * clear.interval_s):
        return "broken"
    return "kept" if max(beyond, default=0.0) <= 1e-9 else "near"
