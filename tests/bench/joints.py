"""Random joints for the benchmark: everything about a joint follows from its seed."""

import math
import random
from dataclasses import dataclass, replace
from functools import cache

from logger.config.procedures import load_procedure
from logger.domain.band import Band
from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.joint import Joint, PipeEnd, WallRule
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.procedure import Procedure
from logger.domain.rig import GaugeSide, Origin, Rig
from logger.plan.compute import compute_plan
from simulators.scenario import Scenario, load_scenario
from simulators.sensors import (
    CARRIAGE_MM_PER_COUNT,
    CARRIAGE_OFFSET_MM,
    LIVE_ZERO_COUNTS,
    PRESSURE_BAR_PER_COUNT,
    TEMPERATURE_DEGC_PER_COUNT,
)
from tests.bench.faults import FAULTS, Clearance

PROCEDURES = (("dvs-2207-1:2015", "PE100"), ("dvs-2207-1:2015", "PE100"), ("dvs-2207-11", "PP-H"))
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
            f"lag {s.rig.hydraulic_lag_s:.2f} s, "
            f"ripple {s.rig.ripple_bar:.2f} bar, let-down {s.operator.let_down_s:.1f} s, "
            f"soak at {s.operator.soak_share_of_limit:.2f} of the limit, {faults}"
        )


def draw_joint(seed: int, rates_hz: dict[float, int] | None = None) -> DrawnJoint:
    """Draw the joint of this seed; half of them have no fault, the others one."""
    rng = random.Random(f"joint {seed}")
    procedure, material = rng.choice(PROCEDURES)
    dn_mm, wall_mm, piston_mm2, net_bar = _pipe_and_piston(rng, 0.15 if material.startswith("PE") else 0.10)
    drag_bar = max(0.3, net_bar * (rng.uniform(0.1, 1.5) if net_bar < 20 else rng.uniform(0.05, 0.6)))
    plan = _plan(rng, procedure, material, (dn_mm, wall_mm), (piston_mm2, drag_bar))
    rates = rates_hz or RATES_HZ
    rate_hz = rng.choices(list(rates), list(rates.values()))[0]
    low, high = NOISE_CLASSES[rng.randrange(len(NOISE_CLASSES))]
    noise_share = math.exp(rng.uniform(math.log(low), math.log(high)))
    noise_bar = noise_share * (net_bar + drag_bar)
    scenario = load_scenario("clean").with_changes(
        {
            "pipe": {"dn_mm": dn_mm, "wall_mm": wall_mm, "material": material},
            "targets": _targets(rng, plan),
            "rig": _rig(rng, piston_mm2, drag_bar, net_bar),
            "plate": {"hysteresis_degC": rng.uniform(1, 3), "contact_dip_degC": rng.uniform(0, 6)},
            "sensors": {"pressure_noise_bar": noise_bar, "temperature_noise_degC": rng.uniform(0.05, 0.4)},
            "operator": _habits(rng),
        }
    )
    if rng.random() < 0.5:
        kind = rng.choice(list(FAULTS))
        clearance = Clearance(net_bar=net_bar, noise_bar=noise_bar, interval_s=1.0 / rate_hz)
        scenario = replace(scenario, fault=(FAULTS[kind](rng, scenario, clearance),))
    side = GaugeSide(scenario.rig.gauge_side)
    return DrawnJoint(
        seed=seed,
        scenario=replace(scenario, name=f"joint {seed}"),
        plan=plan,
        rig=rig_of(side if rng.random() < 0.8 else GaugeSide.UNKNOWN, piston_mm2),
        rate_hz=rate_hz,
        noise_share=noise_share,
        noise_bar=noise_bar,
        with_carriage=rng.random() < 0.4,
        with_plate_in=rng.random() < 0.5,
    )


def rig_of(side: GaugeSide, piston_area_mm2: float) -> Rig:
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
        origin=Origin.SIMULATED,
        channels=(
            # A broken wire reads far below zero; noise around zero must still be a reading.
            channel(Quantity.PRESSURE, PRESSURE_BAR_PER_COUNT, zero_bar, valid_min=-30.0),
            channel(Quantity.PLATE_TEMPERATURE, TEMPERATURE_DEGC_PER_COUNT),
            channel(Quantity.CARRIAGE, CARRIAGE_MM_PER_COUNT, CARRIAGE_OFFSET_MM),
            channel(Quantity.PLATE_IN, 1.0),
        ),
    )


def _pipe_and_piston(rng: random.Random, joining_MPa: float) -> tuple[float, float, float, float]:
    """Diameter, wall, piston area and net joining pressure of 2 to 80 bar, on a rig of believable size."""
    while True:
        dn_mm = float(rng.choice(DIAMETERS_MM))
        wall_mm = dn_mm / rng.choice(RATIOS)
        net_bar = math.exp(rng.uniform(math.log(2.0), math.log(80.0)))
        piston_mm2 = joining_MPa * 10.0 * math.pi * (dn_mm - wall_mm) * wall_mm / net_bar
        if 2.0 <= wall_mm <= 45.0 and 250.0 <= piston_mm2 <= 6000.0:
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
    lasts = {
        Phase.HEAT_SOAK: Band(min=soak_s, target=soak_s, source=soak.source),
        Phase.COOLING: Band(
            min=round(rng.uniform(40.0, 55.0), 1), source=plan.step_of(Phase.COOLING).duration_s.source
        ),
    }
    steps = tuple(replace(s, duration_s=lasts.get(s.phase, s.duration_s)) for s in plan.steps)
    return replace(plan, steps=steps)


def _targets(rng: random.Random, plan: JointPlan) -> dict[str, float]:
    joining = plan.step_of(Phase.COOLING).interface_pressure_MPa
    soak_s = _given(plan.step_of(Phase.HEAT_SOAK).duration_s.min)
    return {
        "joining_interface_MPa": _given(joining.target),
        "joining_tolerance_MPa": _given(joining.target) - _given(joining.min),
        "soak_limit_interface_MPa": _given(plan.step_of(Phase.HEAT_SOAK).interface_pressure_MPa.max),
        "bead_up_s": rng.uniform(8.0, 0.8 * max(30.0, 0.5 * soak_s)),
        "soak_min_s": soak_s,
        "changeover_max_s": _given(plan.step_of(Phase.CHANGEOVER).duration_s.max),
        "build_up_max_s": _given(plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max),
        "cooling_min_s": _given(plan.step_of(Phase.COOLING).duration_s.min),
        "plate_degC": _given(plan.plate_temperature_degC.target),
    }


def _given(value: float | None) -> float:
    if value is None:
        raise ValueError("the procedure leaves out a value that the operator needs")
    return value


def _rig(rng: random.Random, piston_mm2: float, drag_bar: float, net_bar: float) -> dict[str, float | str]:
    joining_bar = net_bar + drag_bar
    return {
        "piston_area_mm2": piston_mm2,
        "opening_area_mm2": piston_mm2 * rng.uniform(0.7, 1.4),
        "drag_bar": drag_bar,
        "breakaway_bar": drag_bar * rng.uniform(1.02, 1.3),
        "relief_bar": joining_bar * rng.uniform(1.3, 2.0) + 10.0,
        "ripple_bar": joining_bar * rng.choice((0.0, rng.uniform(0.0, 0.02))),
        "ripple_Hz": rng.uniform(8.0, 60.0),
        "relief_lag_s": rng.uniform(0.05, 0.25),
        "hydraulic_lag_s": rng.uniform(0.05, 0.5),
        "leak_down_bar_per_min": net_bar * rng.uniform(0.0, 0.03),
        "top_up_threshold_bar": net_bar * rng.uniform(0.005, 0.03),
        "gauge_side": rng.choice(("line", "closing")),
        "plate_thickness_mm": rng.uniform(12.0, 25.0),
    }


def _habits(rng: random.Random) -> dict[str, float]:
    return {
        "idle_s": rng.uniform(3.0, 10.0),
        "facer_handling_s": rng.uniform(4.0, 10.0),
        "facing_s": rng.uniform(15.0, 40.0),
        "facing_share": rng.uniform(0.15, 0.6),
        "alignment_s": rng.uniform(3.0, 10.0),
        "plate_handling_s": rng.uniform(5.0, 15.0),
        "stroke_speed_mm_per_s": rng.uniform(32.0, 70.0),
        "slow_speed_mm_per_s": rng.uniform(8.0, 20.0),
        "let_down_s": rng.uniform(0.3, 2.5),
        "soak_share_of_limit": rng.uniform(0.0, 0.9),
        "soak_margin_s": rng.uniform(2.0, 6.0),
        "changeover_share": rng.uniform(0.6, 0.85),
        "build_up_share": rng.uniform(0.4, 0.85),
        "cooling_margin_s": rng.uniform(2.0, 8.0),
        "tail_s": rng.uniform(12.0, 20.0),
    }
