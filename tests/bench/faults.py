"""What goes wrong on a drawn joint, by how much: always clear of the limit it breaks."""

import random
from collections.abc import Callable
from dataclasses import dataclass

from simulators.scenario import Fault, FaultKind, Phase, Scenario


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """How far beyond a limit a deviation has to be on this joint before anybody could call it."""

    net_bar: float
    noise_bar: float
    interval_s: float

    @property
    def bar(self) -> float:
        return max(0.1 * self.net_bar, 3.0 * self.noise_bar)

    @property
    def seconds(self) -> float:
        return max(0.6, 4.0 * self.interval_s)


Draw = Callable[[random.Random, Scenario, Clearance], Fault]


def _MPa(scenario: Scenario, bar: float) -> float:
    return bar * scenario.rig.piston_area_mm2 / (10.0 * scenario.pipe.area_mm2)


def _beyond_s(kind: FaultKind, widest_s: float) -> Draw:
    def draw(rng: random.Random, _scenario: Scenario, clear: Clearance) -> Fault:
        return Fault(kind=kind, magnitude=1.5 * clear.seconds + rng.uniform(0.0, widest_s))

    return draw


def _off_target(kind: FaultKind) -> Draw:
    """Either way; a low pressure stays high enough to be a joint at all."""

    def draw(rng: random.Random, scenario: Scenario, clear: Clearance) -> Fault:
        tolerance_MPa = scenario.targets.joining_tolerance_MPa
        off_MPa = tolerance_MPa + _MPa(scenario, 1.3 * clear.bar * rng.uniform(1.0, 2.0))
        is_low = rng.random() < 0.5 and off_MPa < 0.5 * scenario.targets.joining_interface_MPa
        return Fault(kind=kind, magnitude=-off_MPa if is_low else off_MPa)

    return draw


def _overshoot(rng: random.Random, scenario: Scenario, clear: Clearance) -> Fault:
    above_MPa = _MPa(scenario, 2.0 * clear.bar * rng.uniform(1.0, 2.0))
    return Fault(kind="overshoot", magnitude=scenario.targets.joining_tolerance_MPa + above_MPa)


def _soak_pressure(rng: random.Random, scenario: Scenario, clear: Clearance) -> Fault:
    return Fault(kind="soak_pressure", magnitude=_MPa(scenario, 1.3 * clear.bar * rng.uniform(1.0, 3.0)))


def _pressure_lost(rng: random.Random, scenario: Scenario, clear: Clearance) -> Fault:
    least = min(0.9, (0.1 * clear.net_bar + 1.3 * clear.bar) / clear.net_bar)
    lost_MPa = scenario.targets.joining_interface_MPa * rng.uniform(least, 0.9)
    return Fault(
        kind="pressure_lost",
        magnitude=lost_MPa,
        after_s=rng.uniform(21.0, 25.0),
        duration_s=rng.uniform(1.0, 8.0),
    )


def _fast_build_up(rng: random.Random, scenario: Scenario, _clear: Clearance) -> Fault:
    return Fault(kind="fast_build_up", magnitude=scenario.targets.build_up_max_s * rng.uniform(0.03, 0.15))


def _plate_setting(rng: random.Random, _scenario: Scenario, _clear: Clearance) -> Fault:
    return Fault(kind="plate_setting", magnitude=rng.choice((-1, 1)) * rng.uniform(15.0, 30.0))


def _long_bead_up(rng: random.Random, scenario: Scenario, clear: Clearance) -> Fault:
    """Beyond the remark's limit: half the soak time, but at least 30 s."""
    usual_s = max(30.0, 0.5 * scenario.targets.soak_min_s)
    beyond_s = usual_s - scenario.targets.bead_up_s + 1.5 * clear.seconds
    return Fault(kind="long_bead_up", magnitude=beyond_s + rng.uniform(0.0, 40.0))


def _long_soak(rng: random.Random, scenario: Scenario, clear: Clearance) -> Fault:
    """Beyond the remark's limit: a quarter more than planned."""
    beyond_s = 0.25 * scenario.targets.soak_min_s + 1.5 * clear.seconds
    return Fault(kind="long_soak", magnitude=beyond_s + rng.uniform(0.0, 30.0))


def _sensor(kind: FaultKind, shortest_s: float, longest_s: float) -> Draw:
    def draw(rng: random.Random, _scenario: Scenario, _clear: Clearance) -> Fault:
        phase: Phase = rng.choice(("bead_up", "heat_soak", "changeover", "cooling"))
        duration_s = rng.uniform(shortest_s, longest_s)
        return Fault(
            kind=kind,
            magnitude=rng.choice((-1, 1)) * rng.uniform(20.0, 60.0),
            phase=phase,
            after_s=rng.uniform(-3.0, 15.0),
            duration_s=duration_s,
            count=rng.randint(1, 3),
            every_s=duration_s + rng.uniform(5.0, 15.0),
        )

    return draw


def _nudge(kind: FaultKind, most: int) -> Draw:
    """Pressed inside the soak's limit, well before the soak is over."""

    def draw(rng: random.Random, scenario: Scenario, _clear: Clearance) -> Fault:
        operator, targets = scenario.operator, scenario.targets
        limit_bar = scenario.gauge_bar(targets.soak_limit_interface_MPa)
        room_bar = limit_bar * (1.0 - operator.soak_share_of_limit)
        count = rng.randint(1, most)
        every_s = 0.6 * targets.soak_min_s / count
        return Fault(
            kind=kind,
            magnitude=_MPa(scenario, 0.7 * room_bar),
            phase="heat_soak",
            after_s=5.0 + rng.uniform(0.0, 0.1) * targets.soak_min_s,
            duration_s=min(rng.uniform(0.3, 1.0), 0.3 * every_s),
            count=count,
            every_s=every_s,
        )

    return draw


def _contact_lost(rng: random.Random, scenario: Scenario, _clear: Clearance) -> Fault:
    return Fault(
        kind="contact_lost",
        magnitude=rng.uniform(1.0, 8.0),
        phase="heat_soak",
        after_s=rng.uniform(5.0, max(5.5, 0.6 * scenario.targets.soak_min_s)),
        duration_s=rng.uniform(0.5, 4.0),
    )


def _contact_repeated(rng: random.Random, _scenario: Scenario, _clear: Clearance) -> Fault:
    return Fault(kind="contact_repeated", magnitude=rng.uniform(1.0, 6.0))


def _restart(kind: FaultKind) -> Draw:
    def draw(rng: random.Random, _scenario: Scenario, _clear: Clearance) -> Fault:
        return Fault(kind=kind, magnitude=rng.uniform(8.0, 20.0))

    return draw


def _pressure_step(rng: random.Random, scenario: Scenario, _clear: Clearance) -> Fault:
    half_MPa = 0.5 * scenario.targets.joining_tolerance_MPa
    after_s = rng.uniform(21.0, 30.0)
    return Fault(
        kind="pressure_step", magnitude=rng.choice((-1, 1)) * half_MPa, after_s=after_s, duration_s=0.3
    )


def _pack_stopped(rng: random.Random, _scenario: Scenario, _clear: Clearance) -> Fault:
    return Fault(
        kind="pack_stopped", after_s=rng.uniform(21.0, 26.0), duration_s=rng.choice((0.0, 8.0, 12.0))
    )


ONE_STAGE = ("pressure_lost", "pressure_step", "pack_stopped", "cooling_pressure", "overshoot")
"""Kinds that are simulated where cooling has one stage only."""
FAULTS: dict[FaultKind, Draw] = {
    "bead_up_pressure": _off_target("bead_up_pressure"),
    "contact_lost": _contact_lost,
    "contact_repeated": _contact_repeated,
    "cooling_pressure": _off_target("cooling_pressure"),
    "dropout": _sensor("dropout", 1.0, 8.0),
    "early_release": _beyond_s("early_release", 12.0),
    "fast_build_up": _fast_build_up,
    "long_bead_up": _long_bead_up,
    "long_soak": _long_soak,
    "nudges": _nudge("nudges", 3),
    "overshoot": _overshoot,
    "pack_stopped": _pack_stopped,
    "plate_moved": _nudge("plate_moved", 1),
    "plate_setting": _plate_setting,
    "pressure_lost": _pressure_lost,
    "pressure_step": _pressure_step,
    "restart_faced": _restart("restart_faced"),
    "restart_unfaced": _restart("restart_unfaced"),
    "short_soak": _beyond_s("short_soak", 10.0),
    "slow_build_up": _beyond_s("slow_build_up", 4.0),
    "slow_changeover": _beyond_s("slow_changeover", 4.0),
    "soak_pressure": _soak_pressure,
    "spikes": _sensor("spikes", 0.02, 0.2),
    "stuck_sensor": _sensor("stuck_sensor", 3.0, 30.0),
    "wire_break": _sensor("wire_break", 1.0, 30.0),
}
