"""What is true of a simulated joint: its boundaries, whether they can be seen, and which limits it breaks."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import PHASES, Phase
from simulators.hydraulics import STEP_S
from simulators.rig import Trajectory
from simulators.scenario import FaultKind
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
KNEE_REACH_S = 0.25
KNEE_BEFORE_S = 0.5
LET_DOWN_S = 4.0
"""After the first stage of cooling: by then the second one's pressure stands."""
KNEE_AFTER_S = 8.0
"""A ramp that ends below its band is over this long after its script gave up, even on a slow pump."""
LANDS_S = 2.0
KICKS_S = 0.7
"""In all; a single kick is over sooner."""
LEAST_OPENING_MM = 1.5
"""Faces closer than this may only have sprung back: half as much again as what is called parted."""
CONTACT_LEAST_HZ = 4.0
"""Faces that touch twice are apart for half a second: slower readings may all fall beside it."""
CONTACT_LEAST_READINGS = 2.0
"""So many readings must fall into the time in which contact is lost."""
State = Literal["broken", "kept", "near"]
"""A limit is broken by a clear margin, kept, or neither can be asked: by too little, or unseen by the rig."""


@dataclass(frozen=True)
class TrueBoundary:
    """`clear`: an edge of 3.6 sigma of the noise or shown by the carriage, with no gap within 1 s."""

    name: str
    at_s: float
    edge_sigmas: float
    clear: bool


def true_boundaries(joint: DrawnJoint, trajectory: Trajectory) -> tuple[TrueBoundary, ...]:
    """The six boundaries in order."""
    times = true_times(trajectory, joint.plan)
    gaps = list(_gaps(trajectory))
    found = []
    for name, at_s in zip(BOUNDARIES, times, strict=True):
        sigmas = _edge_bar(trajectory, name, at_s) / joint.noise_bar
        by_carriage = joint.with_carriage and name in ("changeover.start", "pressure_build_up.start")
        near_gap = any(a - NEAR_GAP_S <= at_s <= b + NEAR_GAP_S for a, b in gaps)
        found.append(
            TrueBoundary(name, at_s, sigmas, (sigmas >= CLEAR_SIGMAS or by_carriage) and not near_gap)
        )
    return tuple(found)


def true_times(trajectory: Trajectory, plan: JointPlan) -> list[float]:
    """The six boundaries as the simulated operator made them, cooling by where the pressure really was.

    A script that gives up waiting for the band starts to cool all the same; by definition cooling begins
    where the pressure at the cylinder first enters the joining band, or at the knee that ends the ramp.
    """
    times = [span.start_s for span in trajectory.truth] + [trajectory.truth[-1].end_s]
    touch_s, end_s = times[3], times[5]
    entered_bar = plan.step_of(Phase.COOLING).gauge_pressure_bar.min or 0.0
    bars = trajectory.cylinder_bar
    first, last = trajectory.index_at(touch_s), trajectory.index_at(end_s)
    if trajectory.scenario.faults("contact_repeated"):
        # Breaking loose for the second closing may take more than joining: look once the faces are together.
        rising = range(first, trajectory.index_at(times[4]))
        first = max(k for k in rising if not trajectory.interface_bar[k])
    entered = next((k for k in range(first, last) if bars[k] >= entered_bar), None)
    if entered is None:
        reach = round(KNEE_REACH_S / STEP_S)
        # The contact itself bends the curve too: look no earlier than shortly before the script gave up.
        begin = max(first + reach, trajectory.index_at(times[4] - KNEE_BEFORE_S))
        inside = range(begin, trajectory.index_at(times[4] + KNEE_AFTER_S))
        entered = min(inside, key=lambda k: bars[k - reach] - 2.0 * bars[k] + bars[k + reach])
    return [*times[:4], entered * STEP_S, end_s]


def _edge_bar(trajectory: Trajectory, name: str, at_s: float) -> float:
    """How far the noise-free gauge moves from just before to a second after, ripple taken off."""
    before_s = 0.5 if name == "cooling.start" else 0.2
    part = trajectory.gauge_bar[trajectory.index_at(at_s - before_s) : trajectory.index_at(at_s + 1.0) + 1]
    return max(0.0, max(part) - min(part) - 2.0 * trajectory.scenario.rig.ripple_bar)


def _gaps(trajectory: Trajectory) -> Iterator[tuple[float, float]]:
    for fault in trajectory.scenario.faults("dropout", "stuck_sensor", "wire_break"):
        first_s = trajectory.start_of(fault.phase) + fault.after_s
        for number in range(fault.count):
            start_s = first_s + number * fault.every_s
            yield start_s, start_s + fault.duration_s
    if trajectory.scenario.rig.gauge_side == "line":
        for fault in trajectory.scenario.faults("pack_stopped"):
            start_s, end_s = trajectory.start_of("cooling") + fault.after_s, trajectory.truth[-1].end_s
            yield start_s, start_s + fault.duration_s if fault.duration_s else end_s


def limits_of(joint: DrawnJoint, trajectory: Trajectory) -> dict[str, State]:
    """Every code, and whether this joint breaks its limit, by the noise-free pressure at the cylinder."""
    plan = joint.plan
    clear = Clearance(net_bar=joint.net_bar, noise_bar=joint.noise_bar, interval_s=1.0 / joint.rate_hz)
    span = dict(zip(PHASES, pairwise(true_times(trajectory, plan)), strict=True))
    states = _durations(plan, {phase: end - start for phase, (start, end) in span.items()}, clear)
    states |= _plate(joint)
    states |= _pressures(joint, trajectory, clear, span)
    states |= _contacts(joint)
    return states | dict.fromkeys(_blurred(joint, states), "near")


def _durations(plan: JointPlan, lasts_s: dict[Phase, float], clear: Clearance) -> dict[str, State]:
    soak_s = plan.step_of(Phase.HEAT_SOAK).duration_s.min or 0.0
    build_up_s = plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max
    changeover_s = plan.step_of(Phase.CHANGEOVER).duration_s.max or 0.0
    cooling_s = sum(step.duration_s.min or 0.0 for step in plan.steps_of(Phase.COOLING))
    margin_s, build_up_took_s = clear.seconds, lasts_s[Phase.PRESSURE_BUILD_UP]
    states = {
        "bead_up.duration.long": _above(lasts_s[Phase.BEAD_UP], max(30.0, 0.5 * soak_s), margin_s),
        "heat_soak.duration.short": _above(soak_s, lasts_s[Phase.HEAT_SOAK], margin_s),
        "heat_soak.duration.long": _above(lasts_s[Phase.HEAT_SOAK], 1.25 * soak_s, margin_s),
        "changeover.duration.long": _above(lasts_s[Phase.CHANGEOVER], changeover_s, margin_s),
        "cooling.duration.short": _above(cooling_s, lasts_s[Phase.COOLING], margin_s),
    }
    if build_up_s is not None:
        states |= {
            "pressure_build_up.duration.long": _above(build_up_took_s, build_up_s, margin_s),
            "pressure_build_up.duration.short": _above(0.2 * build_up_s, build_up_took_s, margin_s),
        }
    return states


def _contacts(joint: DrawnJoint) -> dict[str, State]:
    """Faces apart when they should touch: broken where the rig can see it, else nobody can ask for it."""

    def told(kind: FaultKind, *, seen: bool) -> State:
        if not joint.scenario.faults(kind):
            return "kept"
        return "broken" if seen else "near"

    def wide(kind: FaultKind) -> bool:
        return all(fault.magnitude >= LEAST_OPENING_MM for fault in joint.scenario.faults(kind))

    is_read = joint.rate_hz >= CONTACT_LEAST_HZ
    lost_s = min((fault.duration_s for fault in joint.scenario.faults("contact_lost")), default=0.0)
    lasts = lost_s * joint.rate_hz >= CONTACT_LEAST_READINGS

    return {
        "heat_soak.contact.lost": told(
            "contact_lost", seen=joint.with_carriage and lasts and wide("contact_lost")
        ),
        "pressure_build_up.contact.repeated": told(
            "contact_repeated", seen=joint.with_carriage and is_read and wide("contact_repeated")
        ),
        "bead_up.restart.unfaced": told("restart_unfaced", seen=joint.with_plate_in),
    }


def _blurred(joint: DrawnJoint, states: dict[str, State]) -> list[str]:
    """Codes that another fault makes a matter of definition, or hides."""
    hidden: list[str] = []
    if joint.scenario.faults("contact_repeated"):
        hidden += ["pressure_build_up.", "changeover.duration"]
    if joint.scenario.faults("contact_lost"):
        hidden += ["heat_soak.duration", "heat_soak.pressure"]
    if joint.scenario.faults("pack_stopped"):
        hidden += ["cooling."]
    blurred = [code for code in states if code.startswith(tuple(hidden))] if hidden else []
    return [code for code in blurred if ".contact." not in code]


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
    bands = [step.gauge_pressure_bar for step in plan.steps_of(Phase.COOLING)]
    needed_s = sum(step.duration_s.min or 0.0 for step in plan.steps_of(Phase.COOLING))
    settled_s = _settled(joint, trajectory, cool_s[0], bands[0].max or 0.0)
    first_s, until_s = joint.scenario.targets.first_stage_s, min(cool_s[1], cool_s[0] + needed_s)
    one = _cylinder(trajectory, settled_s + 1.0, cool_s[0] + first_s if first_s else until_s)
    two = _cylinder(trajectory, cool_s[0] + first_s + LET_DOWN_S, until_s) if first_s else []
    peak = _cylinder(trajectory, cool_s[0] - 0.5, settled_s)
    bead_band = plan.step_of(Phase.BEAD_UP).gauge_pressure_bar
    soak_max = plan.step_of(Phase.HEAT_SOAK).gauge_pressure_bar.max
    stages = list(zip(bands, (one, two), strict=False))
    high = _worst(_outside(bars, clear, high=band.max) for band, bars in stages)
    if high == "kept" and _kicks_above(trajectory, settled_s, until_s, bands[0].max or 0.0):
        high = "near"
    bead_high = _outside(bead, clear, high=bead_band.max)
    peak_high = _outside(peak, clear, high=bands[0].max)
    # A carriage that broke loose may overshoot as it lands, for a moment: neither kept nor clearly broken.
    if bead_high == "kept" and _lands_above(trajectory, bead_s[0], bead_band.max):
        bead_high = "near"
    if _lands_above(trajectory, cool_s[0], bands[0].max):
        high, peak_high = (("near" if state == "kept" else state) for state in (high, peak_high))
    return {
        "bead_up.pressure.low": _outside(bead, clear, low=bead_band.min),
        "bead_up.pressure.high": bead_high,
        "heat_soak.pressure.high": _outside(soak, clear, high=soak_max),
        "cooling.pressure.low": _worst(_outside(bars, clear, low=band.min) for band, bars in stages),
        "cooling.pressure.high": high,
        "pressure_build_up.pressure.high": peak_high,
    }


def _worst(states: Iterable[State]) -> State:
    every = set(states)
    return next(state for state in ("broken", "near", "kept") if state in every)


def _settled(joint: DrawnJoint, trajectory: Trajectory, entered_s: float, high_bar: float) -> float:
    """When an overshoot is back in the band: until then it belongs to the build-up."""
    if not joint.scenario.faults("overshoot"):
        return entered_s
    bars = trajectory.cylinder_bar
    first, last = trajectory.index_at(entered_s), trajectory.index_at(entered_s + 20.0)
    above = [k for k in range(first, last) if bars[k] > high_bar]
    return above[-1] * STEP_S if above else entered_s


def _lands_above(trajectory: Trajectory, met_s: float, high_bar: float | None) -> bool:
    return high_bar is not None and max(_cylinder(trajectory, met_s + 0.1, met_s + LANDS_S)) > high_bar


def _kicks_above(trajectory: Trajectory, from_s: float, to_s: float, high_bar: float) -> bool:
    """Whether a pump that kicks at each top-up shows for seconds what the cylinder never had."""
    if not trajectory.scenario.rig.pump_start_spike_bar:
        return False
    shown = trajectory.gauge_bar[trajectory.index_at(from_s) : trajectory.index_at(to_s)]
    return sum(bar > high_bar for bar in shown) * STEP_S > KICKS_S


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
