"""What a joint's life looks like on this rig with this operator: habits, look-alikes, a rough gauge.

Nothing here breaks a limit; whatever does is in `faults`. Each trait is drawn by itself, so that they meet.
"""

import math
import random
from dataclasses import dataclass

from simulators.scenario import Scenario

Table = dict[str, float | str | bool]
JOG_BELOW_BAR = 40.0
"""More than this cannot be let off before a jog opens the carriage."""
CHANGEOVER_SPARE_S = 1.0
"""What opening, plate and closing take besides the strokes of a changeover that uses the whole stroke."""


@dataclass(frozen=True, kw_only=True)
class Circumstances:
    """What the traits have to fit: pressures in bar, the plan's longest changeover in s."""

    piston_mm2: float
    drag_bar: float
    net_bar: float
    tolerance_bar: float
    noise_bar: float
    changeover_max_s: float

    @property
    def joining_bar(self) -> float:
        return self.net_bar + self.drag_bar


def some(rng: random.Random, share: float, value: float, otherwise: float = 0.0) -> float:
    """`value` in this share of all joints."""
    return value if rng.random() < share else otherwise


def rig_traits(rng: random.Random, at: Circumstances) -> Table:
    """The rig: areas, friction, pump, oil, hose, gauge side."""
    breakaway_bar = at.drag_bar * rng.uniform(1.02, 1.3)
    hand_pump_s = some(rng, 0.08, rng.uniform(0.4, 1.0))
    relief_bar = at.joining_bar * rng.uniform(1.3, 2.0) + 10.0
    return {
        "piston_area_mm2": at.piston_mm2,
        "opening_area_mm2": at.piston_mm2 * rng.uniform(0.7, 1.4),
        "drag_bar": at.drag_bar,
        "breakaway_bar": some(
            rng, 0.06, max(breakaway_bar, at.joining_bar * rng.uniform(0.9, 1.3)), breakaway_bar
        ),
        "stick_slip_bar": some(rng, 0.1, at.net_bar * rng.uniform(0.1, 1.2)),
        "stick_slip_mm": rng.uniform(25.0, 50.0),
        "plate_sticks_bar": some(rng, 0.1, 0.3 * relief_bar * rng.uniform(0.1, 1.0)),
        "relief_bar": relief_bar,
        "ripple_bar": 0.0 if hand_pump_s else at.joining_bar * some(rng, 0.5, rng.uniform(0.0, 0.02)),
        "ripple_Hz": rng.uniform(8.0, 60.0),
        "pump_start_spike_bar": some(rng, 0.15, at.joining_bar * rng.uniform(0.1, 0.6)),
        "hand_pump_stroke_s": hand_pump_s,
        "relief_lag_s": rng.uniform(0.05, 0.25),
        "hydraulic_lag_s": math.exp(rng.uniform(math.log(0.05), math.log(1.0))),
        "leak_down_bar_per_min": at.net_bar * rng.uniform(0.0, 0.03),
        "trapped_oil_bar_per_min": some(rng, 0.15, 0.6 * at.tolerance_bar * rng.uniform(-1.0, 1.0)),
        "top_up_threshold_bar": at.net_bar * rng.uniform(0.005, 0.03),
        "gauge_side": rng.choice(("line", "closing")),
        "plate_thickness_mm": rng.uniform(12.0, 25.0),
        "contact_bar_per_mm": max(20.0, at.net_bar / rng.uniform(0.2, 0.7)),
    }


def habits(rng: random.Random, at: Circumstances) -> Table:
    """The operator: how long things take, how pressure is let off, whether the stop is used."""
    return {
        "joints": 2 if rng.random() < 0.04 else 1,
        "idle_s": rng.uniform(3.0, 10.0),
        "drag_strokes": rng.choice((1, 1, 1, 2, 3)),
        "facer_handling_s": rng.uniform(4.0, 10.0),
        "facing_s": some(rng, 0.1, rng.uniform(90.0, 180.0), rng.uniform(15.0, 40.0)),
        "facing_share": rng.uniform(0.15, 0.6),
        "alignment_s": some(rng, 0.1, rng.uniform(20.0, 40.0), rng.uniform(3.0, 10.0)),
        "plate_handling_s": rng.uniform(5.0, 15.0),
        "stroke_speed_mm_per_s": rng.uniform(32.0, 70.0),
        "slow_speed_mm_per_s": rng.uniform(8.0, 20.0),
        "let_down": "jog" if rng.random() < 0.12 and at.net_bar < JOG_BELOW_BAR else "valve",
        "let_down_s": rng.uniform(0.3, 2.5),
        "soak_share_of_limit": rng.uniform(0.0, 0.9),
        "soak_margin_s": rng.uniform(2.0, 6.0),
        "changeover_share": rng.uniform(0.6, 0.85),
        "build_up_share": rng.uniform(0.4, 0.85),
        "cooling_margin_s": rng.uniform(2.0, 8.0),
        "release_s": some(rng, 0.1, rng.uniform(6.0, 20.0), rng.uniform(0.8, 2.5)),
        "tail_s": rng.uniform(12.0, 20.0),
    } | _to_the_stop(rng, at)


def _to_the_stop(rng: random.Random, at: Circumstances) -> Table:
    """A changeover against the stop, where the plan leaves time for the whole stroke both ways."""
    speed_mm_per_s, share, stroke_mm = rng.uniform(60.0, 90.0), rng.uniform(0.75, 0.85), 90.0
    needed_s = 2.2 * stroke_mm / speed_mm_per_s + CHANGEOVER_SPARE_S
    if rng.random() > 0.15 or needed_s > share * at.changeover_max_s:
        return {}
    return {"opens_to_stop": True, "changeover_share": share, "stroke_speed_mm_per_s": speed_mm_per_s}


def plate_traits(rng: random.Random) -> Table:
    """Thermostat swing and contact dip; small pipe shows no dip."""
    return {
        "hysteresis_degC": some(rng, 0.15, rng.uniform(4.0, 8.0), rng.uniform(1.0, 3.0)),
        "contact_dip_degC": some(rng, 0.8, rng.uniform(0.0, 6.0)),
    }


def sensor_traits(rng: random.Random, at: Circumstances) -> Table:
    """White noise mostly; some remembers itself, some converters are coarse."""
    return {
        "pressure_noise_bar": at.noise_bar,
        "pressure_noise_memory_s": some(rng, 0.12, rng.uniform(0.02, 0.15)),
        "pressure_step_bar": some(rng, 0.15, min(1.5 * at.noise_bar, 0.01 * at.joining_bar)),
        "temperature_noise_degC": rng.uniform(0.05, 0.4),
    }


def traits_of(s: Scenario) -> str:
    """Whatever is out of the ordinary about this rig and its operator."""
    traits = {
        "two stages": s.targets.first_stage_s > 0.0,
        "two joints": s.operator.joints > 1,
        "let down by a jog": s.operator.let_down == "jog",
        "opens to the stop": s.operator.opens_to_stop,
        "slow release": s.operator.release_s > 3.0,
        f"sticks and slips by {s.rig.stick_slip_bar:.1f} bar": s.rig.stick_slip_bar > 0.0,
        f"breaks loose at {s.rig.breakaway_bar:.1f} bar": s.rig.breakaway_bar > 1.3 * s.rig.drag_bar,
        "plate sticks": s.rig.plate_sticks_bar > 0.0,
        "pump kicks": s.rig.pump_start_spike_bar > 0.0,
        "hand pump": s.rig.hand_pump_stroke_s > 0.0,
        "oil warms or cools": s.rig.trapped_oil_bar_per_min != 0.0,
        "noise remembers": s.sensors.pressure_noise_memory_s > 0.0,
        "coarse converter": s.sensors.pressure_step_bar > 0.0,
    }
    return "".join(f", {trait}" for trait, has in traits.items() if has)
