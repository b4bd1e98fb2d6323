"""Random joints for the benchmark: everything about a joint follows from its seed."""

import math
import random
from dataclasses import dataclass, replace
from functools import cache

from logger.config.procedures import load_procedure
from logger.domain.band import Band
from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.joint import Joint, PipeEnd, WallRule
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.phase import Phase
from logger.domain.procedure import Procedure
from logger.domain.rig import GaugeSide, Origin, Rig
from logger.plan.compute import compute_plan
from simulators.scenario import Fault, Scenario, load_scenario
from simulators.sensors import (
    CARRIAGE_MM_PER_COUNT,
    CARRIAGE_OFFSET_MM,
    LIVE_ZERO_COUNTS,
    PRESSURE_BAR_PER_COUNT,
    TEMPERATURE_DEGC_PER_COUNT,
)
from tests.bench.faults import FAULTS, ONE_STAGE, Clearance
from tests.bench.lives import Circumstances, habits, plate_traits, rig_traits, sensor_traits, traits_of
from tests.bench.sketch import can_sketch

PROCEDURES = {
    ("dvs-2207-1:2015", "PE100"): 6,
    ("dvs-2207-11", "PP-H"): 3,
    ("iso-21307:2017/dual-low", "PE100"): 1,
}
"""Procedure and material, and how often each is drawn."""
DUAL_ABOVE_WALL_MM = 20.5
DIAMETERS_MM = (
    32,
    40,
    50,
    63,
    75,
    90,
    110,
    125,
    160,
    180,
    200,
    225,
    250,
    280,
    315,
    355,
    400,
    450,
    500,
    560,
    630,
)
RATIOS = (7.4, 9.0, 11.0, 13.6, 17.0, 17.6, 21.0, 26.0)
RATES_HZ = {1.0: 1, 2.0: 1, 5.0: 2, 10.0: 8, 20.0: 2, 50.0: 2}
"""Rates in readings per second and how often each is drawn."""
NOISE_CLASSES = ((0.003, 0.01), (0.01, 0.02), (0.02, 0.05))
"""Standard deviation of the noise as a share of the joining gauge pressure, drag included."""
SKETCHED_SHARE = 0.2
BUILD_UP_MAX_S = 8.0
"""What the operator keeps to where the procedure gives no time."""
LONGEST_SOAK_S = 90.0
"""A longer soak of the plan is cut to this, in the plan and for the operator alike: less to compute."""


@dataclass(frozen=True, kw_only=True)
class DrawnJoint:
    """One joint: what is simulated, and what recorder and judge are told."""

    seed: int
    scenario: Scenario
    plan: JointPlan
    rig: Rig
    rate_hz: float
    noise_share: float
    noise_bar: float
    with_carriage: bool
    with_plate_in: bool
    sketched: bool = False
    """Whether the curve is drawn by `sketch` instead of simulated."""

    @property
    def noise_class(self) -> str:
        low, high = next(c for c in NOISE_CLASSES if self.noise_share <= c[1])
        return f"{100 * low:g}-{100 * high:g} %"

    @property
    def net_bar(self) -> float:
        return self.joining_bar - self.scenario.rig.drag_bar

    @property
    def joining_bar(self) -> float:
        return self.scenario.gauge_bar(self.scenario.targets.joining_interface_MPa)

    def describe(self) -> str:
        """One line with what matters of this joint."""
        s = self.scenario
        faults = ", ".join(f"{f.kind} {f.magnitude:.3g}" for f in s.fault) or "no fault"
        return (
            f"{self.rate_hz:g} Hz, noise {100 * self.noise_share:.2f} % = {self.noise_bar:.3f} bar, "
            f"net {self.net_bar:.1f} bar, drag {s.rig.drag_bar:.2f}, gauge {s.rig.gauge_side}"
            f" (told {self.rig.gauge_side}), {'carriage' if self.with_carriage else 'no carriage'}, "
            f"{'plate switch' if self.with_plate_in else 'no plate switch'}, "
            f"lag {s.rig.hydraulic_lag_s:.2f} s{', sketched' if self.sketched else ''}{traits_of(s)}, "
            f"ripple {s.rig.ripple_bar:.2f} bar, let-down {s.operator.let_down_s:.1f} s, "
            f"soak at {s.operator.soak_share_of_limit:.2f} of the limit, {faults}"
        )


def draw_joint(seed: int, rates_hz: dict[float, int] | None = None) -> DrawnJoint:
    """Draw the joint of this seed; half of them have no fault, the others one."""
    rng = random.Random(f"joint {seed}")
    procedure, material = rng.choices(list(PROCEDURES), list(PROCEDURES.values()))[0]
    dn_mm, wall_mm, piston_mm2, net_bar = _pipe_and_piston(rng, procedure, material)
    drag_bar = max(0.3, net_bar * (rng.uniform(0.1, 1.5) if net_bar < 20 else rng.uniform(0.05, 0.6)))
    plan = _plan(rng, procedure, material, (dn_mm, wall_mm), (piston_mm2, drag_bar))
    rates = rates_hz or RATES_HZ
    rate_hz = rng.choices(list(rates), list(rates.values()))[0]
    low, high = NOISE_CLASSES[rng.randrange(len(NOISE_CLASSES))]
    noise_share = math.exp(rng.uniform(math.log(low), math.log(high)))
    noise_bar = noise_share * (net_bar + drag_bar)
    targets = _targets(rng, plan)
    at = Circumstances(
        piston_mm2=piston_mm2,
        drag_bar=drag_bar,
        net_bar=net_bar,
        tolerance_bar=net_bar * targets["joining_tolerance_MPa"] / targets["joining_interface_MPa"],
        noise_bar=noise_bar,
        changeover_max_s=targets["changeover_max_s"],
    )
    operator = habits(rng, at)
    scenario = load_scenario("clean").with_changes(
        {
            "pipe": {"dn_mm": dn_mm, "wall_mm": wall_mm, "material": material},
            "targets": targets,
            "rig": rig_traits(rng, at) | ({"stroke_mm": 90.0} if "opens_to_stop" in operator else {}),
            "plate": plate_traits(rng),
            "sensors": sensor_traits(rng, at),
            "operator": operator,
        }
    )
    clearance = Clearance(net_bar=net_bar, noise_bar=noise_bar, interval_s=1.0 / rate_hz)
    scenario = replace(scenario, name=f"joint {seed}", fault=_faults(rng, scenario, clearance))
    side = GaugeSide(scenario.rig.gauge_side)
    return DrawnJoint(
        seed=seed,
        scenario=scenario,
        plan=plan,
        rig=rig_of(
            side if rng.random() < 0.8 else GaugeSide.UNKNOWN,
            piston_mm2,
            check_valve=bool(scenario.faults("pack_stopped")) or rng.choice((None, False)),
        ),
        rate_hz=rate_hz,
        noise_share=noise_share,
        noise_bar=noise_bar,
        with_carriage=rng.random() < 0.4,
        with_plate_in=rng.random() < 0.5,
        sketched=rng.random() < SKETCHED_SHARE and can_sketch(scenario),
    )


def _faults(rng: random.Random, scenario: Scenario, clearance: Clearance) -> tuple[Fault, ...]:
    if rng.random() < 0.5:
        return ()
    # A joint of two stages is held to its numbers by its own limits; what happens in one stage is left out.
    kinds = [kind for kind in FAULTS if not (scenario.targets.first_stage_s and kind in ONE_STAGE)]
    return (FAULTS[rng.choice(kinds)](rng, scenario, clearance),)


def rig_of(side: GaugeSide, piston_area_mm2: float, *, check_valve: bool | None = None) -> Rig:
    """The recorder's view of the simulated rig: scalings as the device documents them."""

    def channel(
        quantity: Quantity, gain: float, offset: float = 0.0, valid_min: float | None = None
    ) -> Channel:
        scaling = Scaling(gain=gain, offset=offset)
        return Channel(quantity=quantity, scaling=scaling, valid_min=valid_min, resolution=gain)

    zero_bar = -LIVE_ZERO_COUNTS * PRESSURE_BAR_PER_COUNT
    return Rig(
        name="bench",
        piston_area_mm2=piston_area_mm2,
        gauge_side=side,
        check_valve=check_valve,
        origin=Origin.SIMULATED,
        channels=(
            # A broken wire reads far below zero; noise around zero must still be a reading.
            channel(Quantity.PRESSURE, PRESSURE_BAR_PER_COUNT, zero_bar, valid_min=-30.0),
            channel(Quantity.PLATE_TEMPERATURE, TEMPERATURE_DEGC_PER_COUNT),
            channel(Quantity.CARRIAGE, CARRIAGE_MM_PER_COUNT, CARRIAGE_OFFSET_MM),
            channel(Quantity.PLATE_IN, 1.0),
        ),
    )


def _pipe_and_piston(rng: random.Random, procedure: str, material: str) -> tuple[float, float, float, float]:
    """Diameter, wall, piston area and net joining pressure of 2 to 80 bar, on a rig of believable size."""
    joining_MPa = 0.15 if material.startswith("PE") else 0.10
    thinnest_mm = DUAL_ABOVE_WALL_MM if "dual" in procedure else 2.0
    while True:
        dn_mm = float(rng.choice(DIAMETERS_MM))
        wall_mm = dn_mm / rng.choice(RATIOS)
        net_bar = math.exp(rng.uniform(math.log(2.0), math.log(80.0)))
        piston_mm2 = joining_MPa * 10.0 * math.pi * (dn_mm - wall_mm) * wall_mm / net_bar
        if thinnest_mm <= wall_mm <= 45.0 and 250.0 <= piston_mm2 <= 6000.0:
            return dn_mm, wall_mm, piston_mm2, net_bar


@cache
def _procedure(procedure_id: str) -> Procedure:
    return load_procedure(procedure_id)


def _plan(
    rng: random.Random, procedure: str, material: str, pipe: tuple[float, float], rig: tuple[float, float]
) -> JointPlan:
    """The procedure's plan with cooling cut short, and soak where it is long."""
    end = PipeEnd(
        material=material, outside_diameter_mm=pipe[0], wall_mm=pipe[1], wall_rule=WallRule.DN_OVER_SDR
    )
    joint = Joint(
        joint="1",
        procedure=procedure,
        pipe_a=end,
        pipe_b=end,
        ambient_temperature_degC=20.0,
        drag_pressure_bar=rig[1],
        piston_area_mm2=rig[0],
    )
    plan = compute_plan(joint, _procedure(procedure))
    soak = plan.step_of(Phase.HEAT_SOAK).duration_s
    soak_s = round(min(soak.min or soak.target or LONGEST_SOAK_S, LONGEST_SOAK_S), 1)
    cooling_s = round(rng.uniform(40.0, 55.0), 1)

    def shortened(step: PlanStep) -> PlanStep:
        if step.phase is Phase.HEAT_SOAK:
            return replace(step, duration_s=Band(min=soak_s, target=soak_s, source=soak.source))
        if step.phase is Phase.COOLING and step.step in (None, 2):
            return replace(step, duration_s=Band(min=cooling_s, source=step.duration_s.source))
        return step

    return replace(plan, steps=tuple(shortened(step) for step in plan.steps))


def _targets(rng: random.Random, plan: JointPlan) -> dict[str, float]:
    first, last = plan.steps_of(Phase.COOLING)[0], plan.steps_of(Phase.COOLING)[-1]
    joining = first.interface_pressure_MPa
    soak_s = _given(plan.step_of(Phase.HEAT_SOAK).duration_s.min)
    first_stage_s = 0.0 if first is last else _given(first.duration_s.target)
    return {
        "joining_interface_MPa": _given(joining.target),
        "joining_tolerance_MPa": _given(joining.target) - _given(joining.min),
        # Drag or less, where the procedure gives no limit of its own.
        "soak_limit_interface_MPa": plan.step_of(Phase.HEAT_SOAK).interface_pressure_MPa.max or 0.0,
        "bead_up_s": rng.uniform(8.0, 0.8 * max(30.0, 0.5 * soak_s)),
        "soak_min_s": soak_s,
        "changeover_max_s": _given(plan.step_of(Phase.CHANGEOVER).duration_s.max),
        "build_up_max_s": plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max or BUILD_UP_MAX_S,
        "cooling_min_s": first_stage_s + _given(last.duration_s.min),
        "first_stage_s": first_stage_s,
        "second_interface_MPa": 0.0 if first is last else _given(last.interface_pressure_MPa.target),
        "plate_degC": _given(plan.plate_temperature_degC.target),
    }


def _given(value: float | None) -> float:
    if value is None:
        raise ValueError("the procedure leaves out a value that the operator needs")
    return value
