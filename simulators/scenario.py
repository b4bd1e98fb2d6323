"""A scenario: which joint the scripted operator makes on which rig, and what goes wrong.

Scenarios are TOML files in `configs/scenarios/`; `base = "clean"` takes over everything that is not repeated.
"""

import dataclasses
import math
import re
import tomllib
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from simulators.tables import Count, NotNegative, Positive, ScenarioError, Where, built, merged, nearest
from simulators.toml_lines import Place, lines_of_keys

Phase = Literal["bead_up", "heat_soak", "changeover", "pressure_build_up", "cooling"]
PHASES: tuple[Phase, ...] = typing.get_args(Phase)
GaugeSide = Literal["line", "closing"]
Verdict = Literal["conforming", "nonconforming", "undecided"]
FaultKind = Literal[
    "bead_up_pressure",
    "contact_lost",
    "contact_repeated",
    "cooling_pressure",
    "dropout",
    "early_release",
    "fast_build_up",
    "long_bead_up",
    "long_soak",
    "nudges",
    "overshoot",
    "pack_stopped",
    "plate_moved",
    "plate_setting",
    "pressure_lost",
    "pressure_step",
    "restart_faced",
    "restart_unfaced",
    "short_soak",
    "slow_build_up",
    "slow_changeover",
    "soak_pressure",
    "spikes",
    "stuck_sensor",
    "wire_break",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    dn_mm: Positive
    wall_mm: Positive
    material: str

    @property
    def area_mm2(self) -> float:
        """Area of the pipe's end face."""
        return math.pi * (self.dn_mm - self.wall_mm) * self.wall_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """The numbers of the plan that the operator works to; the habits in `Operator` stay inside them."""

    joining_interface_MPa: Positive
    joining_tolerance_MPa: NotNegative
    soak_limit_interface_MPa: NotNegative
    bead_up_s: Positive
    soak_min_s: NotNegative
    changeover_max_s: Positive
    build_up_max_s: Positive
    cooling_min_s: NotNegative
    """Both stages together where there are two."""
    first_stage_s: NotNegative
    """How long the joining pressure stands before it is let down to the second stage; 0: one stage only."""
    second_interface_MPa: NotNegative
    plate_degC: NotNegative


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    piston_area_mm2: Positive
    """Effective closing area of all cylinders together."""
    opening_area_mm2: Positive
    drag_bar: NotNegative
    breakaway_bar: NotNegative
    stick_slip_bar: NotNegative
    """A long string: drag climbs by this much and jumps back, every `stick_slip_mm` of travel."""
    stick_slip_mm: Positive
    plate_sticks_bar: NotNegative
    """What it takes beyond friction to tear a face off the hot plate."""
    relief_bar: NotNegative
    """Where the pack's relief valve opens when an opening stroke meets its stop."""
    ripple_bar: NotNegative
    ripple_Hz: NotNegative
    pump_start_spike_bar: NotNegative
    """Added at the gauge when the pump starts; gone within a few tenths of a second."""
    hand_pump_stroke_s: NotNegative
    """A hand pump raises the pressure in steps, one per stroke; 0 is a motor pump."""
    relief_lag_s: Positive
    hydraulic_lag_s: NotNegative
    """From the cylinder to the transmitter: hose, cold oil, snubber."""
    leak_down_bar_per_min: NotNegative
    trapped_oil_bar_per_min: float
    """Pressure of the shut-in oil as it warms in the sun, or cools (negative); comes on top of the leak."""
    top_up_threshold_bar: NotNegative
    gauge_side: GaugeSide
    contact_bar_per_mm: Positive
    """Clamps, pipe string and faces squeezed together, as bar on the closing area."""
    check_valve: bool
    """Whether a rig file of this rig declares that something can part a line gauge from the cylinders."""
    stroke_mm: Positive
    plate_thickness_mm: NotNegative
    facer_thickness_mm: NotNegative


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    hysteresis_degC: NotNegative
    contact_dip_degC: NotNegative
    sensor_lag_s: Positive
    ambient_degC: float
    starts_below_K: NotNegative
    """How far below its set temperature the plate is switched on as the scenario begins; 0: it is hot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensors:
    pressure_noise_bar: NotNegative
    pressure_noise_memory_s: NotNegative
    """Time constant over which the noise remembers itself; 0 is white."""
    pressure_step_bar: NotNegative
    """What a coarse converter resolves; 0 leaves the counts of the register as they are."""
    temperature_noise_degC: NotNegative


@dataclass(frozen=True, slots=True, kw_only=True)
class Operator:
    """Habits: how long each step takes, and how far inside the plan's limits this operator stays."""

    joints: Count
    """Made one after the other; the last one is the joint that the truth speaks of."""
    idle_s: NotNegative
    drag_strokes: Count
    facer_handling_s: NotNegative
    facing_s: Positive
    facing_share: Positive
    """Facing pressure above drag, as a share of the joining pressure above drag."""
    alignment_s: NotNegative
    plate_handling_s: NotNegative
    stroke_speed_mm_per_s: Positive
    slow_speed_mm_per_s: Positive
    let_down: Literal["valve", "jog"]
    """By easing the pressure setting, or by a short jog of the opening valve."""
    let_down_s: NotNegative
    soak_share_of_limit: NotNegative
    """Gauge pressure in heat soak as a share of its highest allowed gauge pressure."""
    soak_margin_s: NotNegative
    opens_to_stop: bool
    """In the changeover the carriage runs against its stop, where the line shows the relief pressure."""
    changeover_share: Positive
    build_up_share: Positive
    cooling_margin_s: NotNegative
    release_s: Positive
    tail_s: NotNegative


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What goes wrong, or only looks like it; `magnitude` is in the unit of its kind (`intent`, `sensors`).

    It begins `after_s` into `phase` and lasts `duration_s`, `count` times, `every_s` apart, where its kind
    says so.
    """

    kind: FaultKind
    magnitude: float = 0.0
    phase: Phase = "cooling"
    after_s: float = 0.0
    duration_s: NotNegative = 0.0
    count: Count = 1
    every_s: NotNegative = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    name: str
    description: str
    expected_verdict: Verdict
    expected_codes: tuple[str, ...]
    pipe: Pipe
    targets: Targets
    rig: Rig
    plate: Plate
    sensors: Sensors
    operator: Operator
    fault: tuple[Fault, ...] = field(default=())

    def faults(self, *kinds: FaultKind) -> list[Fault]:
        return [fault for fault in self.fault if fault.kind in kinds]

    def gauge_bar(self, interface_MPa: float) -> float:
        """Gauge pressure, drag included, that gives this interface pressure."""
        return interface_MPa * 10.0 * self.pipe.area_mm2 / self.rig.piston_area_mm2 + self.rig.drag_bar

    def with_changes(self, changes: Mapping[str, Mapping[str, Any]]) -> "Scenario":
        """The same scenario with some values of some tables replaced.

        Raises:
            ScenarioError: unknown table or key, or a value of the wrong type or out of range.
        """
        table = merged(dataclasses.asdict(self), changes)
        return typing.cast(Scenario, built(Scenario, table, lambda _place: self.name))


def scenario_names() -> list[str]:
    """Names of the scenarios that come with Beadwatch."""
    folder = files("configs") / "scenarios"
    return sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml"))


def load_scenario(name_or_path: str) -> Scenario:
    """Load a shipped scenario by name, or any file by its path ending in .toml.

    Raises:
        ScenarioError: no such scenario, not TOML, unknown or missing key, wrong type, out of range; the text
            names file, line and key.
    """
    table, lines = _read(name_or_path)
    name = Path(name_or_path).stem if name_or_path.endswith(".toml") else name_or_path
    return typing.cast(Scenario, built(Scenario, {**table, "name": name}, _where(name_or_path, lines)))


_Lines = dict[Place, str]
"""FILE:LINE of each key, of the file that said it last."""


def _where(file: str, lines: _Lines) -> Where:
    def where(place: Place) -> str:
        """The place itself, or the nearest table around it; what is missing on top: the first line."""
        known = (lines[place[:length]] for length in range(len(place), 0, -1) if place[:length] in lines)
        return next(known, f"{file}:1")

    return where


def _read(name_or_path: str, seen: tuple[str, ...] = ()) -> tuple[dict[str, Any], _Lines]:
    """The table with all its bases merged in."""
    text = _text(name_or_path)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        message, _, line = str(err).partition(" (at line ")
        number = re.match(r"\d+", line)
        at = int(number.group()) if number else len(text.splitlines())
        raise ScenarioError(
            f"{name_or_path}:{max(1, at)}: not TOML: {message.partition(' (at ')[0]}"
        ) from err
    lines = {place: f"{name_or_path}:{number}" for place, number in lines_of_keys(text).items()}
    base = table.pop("base", None)
    if base is None:
        return table, lines
    where = lines.get(("base",), f"{name_or_path}:1")
    if str(base) in (*seen, name_or_path):
        raise ScenarioError(f"{where}: base: goes round in a circle")
    if not str(base).endswith(".toml") and base not in scenario_names():
        raise ScenarioError(f"{where}: base: {base}: no such scenario{nearest(str(base), scenario_names())}")
    under, lines_under = _read(str(base), (*seen, name_or_path))
    kept = {place: at for place, at in lines_under.items() if not isinstance(table.get(str(place[0])), list)}
    return merged(under, table), kept | lines


def _text(name_or_path: str) -> str:
    try:
        if name_or_path.endswith(".toml"):
            return Path(name_or_path).read_text(encoding="utf-8")
        if name_or_path in scenario_names():
            return (files("configs") / "scenarios" / f"{name_or_path}.toml").read_text(encoding="utf-8")
    except OSError as err:
        raise ScenarioError(f"{name_or_path}: cannot be read: {err.strerror}") from err
    except UnicodeDecodeError as err:
        raise ScenarioError(f"{name_or_path}: not UTF-8 text") from err
    raise ScenarioError(f"{name_or_path}: no such scenario{nearest(name_or_path, scenario_names())}")
