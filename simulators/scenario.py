"""A scenario: which joint the scripted operator makes on which rig, and what goes wrong.

Scenarios are TOML files in `configs/scenarios/`; `base = "clean"` takes over everything that is not repeated.
"""

import dataclasses
import difflib
import math
import tomllib
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

Phase = Literal["bead_up", "heat_soak", "changeover", "pressure_build_up", "cooling"]
PHASES: tuple[Phase, ...] = typing.get_args(Phase)
GaugeSide = Literal["line", "closing"]
Verdict = Literal["conforming", "nonconforming", "undecided"]
FaultKind = Literal[
    "bead_up_pressure",
    "cooling_pressure",
    "dropout",
    "early_release",
    "fast_build_up",
    "long_bead_up",
    "long_soak",
    "overshoot",
    "plate_setting",
    "pressure_lost",
    "short_soak",
    "slow_build_up",
    "slow_changeover",
    "soak_pressure",
    "spikes",
    "stuck_sensor",
    "wire_break",
]
_ABOVE_ZERO = {
    "bead_up_s",
    "build_up_max_s",
    "build_up_share",
    "changeover_max_s",
    "changeover_share",
    "dn_mm",
    "facing_s",
    "facing_share",
    "joining_interface_MPa",
    "opening_area_mm2",
    "piston_area_mm2",
    "relief_lag_s",
    "sensor_lag_s",
    "slow_speed_mm_per_s",
    "stroke_mm",
    "stroke_speed_mm_per_s",
    "wall_mm",
}


class ScenarioError(ValueError):
    """A scenario is missing or wrong; `str()` is one line naming file, key and the nearest valid choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    dn_mm: float
    wall_mm: float
    material: str

    @property
    def area_mm2(self) -> float:
        """Area of the pipe's end face."""
        return math.pi * (self.dn_mm - self.wall_mm) * self.wall_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """The numbers of the plan that the operator works to; the habits in `Operator` stay inside them."""

    joining_interface_MPa: float
    joining_tolerance_MPa: float
    soak_limit_interface_MPa: float
    bead_up_s: float
    soak_min_s: float
    changeover_max_s: float
    build_up_max_s: float
    cooling_min_s: float
    plate_degC: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    piston_area_mm2: float
    """Effective closing area of all cylinders together."""
    opening_area_mm2: float
    drag_bar: float
    breakaway_bar: float
    relief_bar: float
    """Where the pack's relief valve opens when an opening stroke meets its stop."""
    ripple_bar: float
    ripple_Hz: float
    relief_lag_s: float
    hydraulic_lag_s: float
    """From the cylinder to the transmitter: hose, cold oil, snubber."""
    leak_down_bar_per_min: float
    top_up_threshold_bar: float
    gauge_side: GaugeSide
    stroke_mm: float
    plate_thickness_mm: float
    facer_thickness_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    hysteresis_degC: float
    contact_dip_degC: float
    sensor_lag_s: float
    ambient_degC: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensors:
    pressure_noise_bar: float
    temperature_noise_degC: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Operator:
    """Habits: how long each step takes, and how far inside the plan's limits this operator stays."""

    idle_s: float
    facer_handling_s: float
    facing_s: float
    facing_share: float
    """Facing pressure above drag, as a share of the joining pressure above drag."""
    alignment_s: float
    plate_handling_s: float
    stroke_speed_mm_per_s: float
    slow_speed_mm_per_s: float
    let_down_s: float
    soak_share_of_limit: float
    """Gauge pressure in heat soak as a share of its highest allowed gauge pressure."""
    soak_margin_s: float
    changeover_share: float
    build_up_share: float
    cooling_margin_s: float
    tail_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What goes wrong; `magnitude` is in the unit of its kind (see `intent` and `sensors`).

    Sensor faults begin `after_s` into `phase` and last `duration_s`, `count` times, `every_s` apart.
    """

    kind: FaultKind
    magnitude: float = 0.0
    phase: Phase = "cooling"
    after_s: float = 0.0
    duration_s: float = 0.0
    count: int = 1
    every_s: float = 0.0


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

    def __post_init__(self) -> None:
        for table in (self.pipe, self.targets, self.rig, self.plate, self.sensors, self.operator):
            for part in dataclasses.fields(table):
                value = getattr(table, part.name)
                if isinstance(value, float) and (value < 0.0 or (value == 0.0 and part.name in _ABOVE_ZERO)):
                    raise ScenarioError(f"{self.name}: {part.name}: {value} is too small")

    def faults(self, *kinds: FaultKind) -> list[Fault]:
        return [fault for fault in self.fault if fault.kind in kinds]

    def gauge_bar(self, interface_MPa: float) -> float:
        """Gauge pressure, drag included, that gives this interface pressure."""
        return interface_MPa * 10.0 * self.pipe.area_mm2 / self.rig.piston_area_mm2 + self.rig.drag_bar

    def with_changes(self, changes: Mapping[str, Mapping[str, Any]]) -> "Scenario":
        """The same scenario with some values of some tables replaced.

        Raises:
            ScenarioError: unknown table or key, or a value of the wrong type.
        """
        table = _merged(dataclasses.asdict(self), changes)
        return typing.cast(Scenario, _build(Scenario, table, self.name))


def scenario_names() -> list[str]:
    """Names of the scenarios that come with Beadwatch."""
    folder = files("configs") / "scenarios"
    return sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml"))


def load_scenario(name_or_path: str) -> Scenario:
    """Load a shipped scenario by name, or any file by its path ending in .toml.

    Raises:
        ScenarioError: no such scenario, not TOML, unknown or missing key, wrong type.
    """
    table = _table(name_or_path)
    name = Path(name_or_path).stem if name_or_path.endswith(".toml") else name_or_path
    return typing.cast(Scenario, _build(Scenario, {**table, "name": name}, name_or_path))


def _table(name_or_path: str, seen: tuple[str, ...] = ()) -> dict[str, Any]:
    if name_or_path in seen:
        raise ScenarioError(f"{name_or_path}: base: goes round in a circle")
    try:
        table = tomllib.loads(_text(name_or_path))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise ScenarioError(f"{name_or_path}: not TOML: {err}") from err
    base = table.pop("base", None)
    return table if base is None else _merged(_table(str(base), (*seen, name_or_path)), table)


def _text(name_or_path: str) -> str:
    if name_or_path.endswith(".toml"):
        try:
            return Path(name_or_path).read_text(encoding="utf-8")
        except OSError as err:
            raise ScenarioError(f"{name_or_path}: cannot be read: {err.strerror}") from err
    if name_or_path not in scenario_names():
        raise ScenarioError(f"{name_or_path}: no such scenario{_nearest(name_or_path, scenario_names())}")
    return (files("configs") / "scenarios" / f"{name_or_path}.toml").read_text(encoding="utf-8")


def _merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in over.items():
        old = merged.get(key)
        merged[key] = _merged(old, value) if isinstance(old, dict) and isinstance(value, Mapping) else value
    return merged


def _nearest(word: str, choices: list[str]) -> str:
    near = difflib.get_close_matches(word, choices, n=1, cutoff=0.4)
    return f" (did you mean {near[0]}?)" if near else f" (one of: {', '.join(choices)})"


def _build(cls: type, table: Mapping[str, Any], where: str) -> object:
    hints = typing.get_type_hints(cls)
    for key in table:
        if key not in hints:
            raise ScenarioError(f"{where}: {key}: unknown key{_nearest(key, sorted(hints))}")
    for part in dataclasses.fields(cls):
        if part.name not in table and part.default is dataclasses.MISSING:
            raise ScenarioError(f"{where}: {part.name}: missing")
    return cls(**{key: _value(hints[key], value, f"{where}: {key}") for key, value in table.items()})


def _value(hint: Any, value: Any, where: str) -> Any:
    if dataclasses.is_dataclass(hint):
        if not isinstance(value, Mapping):
            raise ScenarioError(f"{where}: expected a table")
        return _build(typing.cast(type, hint), value, where)
    if isinstance(hint, types.GenericAlias):
        if not isinstance(value, (list, tuple)):
            raise ScenarioError(f"{where}: expected a list")
        return tuple(
            _value(hint.__args__[0], item, f"{where} {number}") for number, item in enumerate(value, 1)
        )
    if typing.get_origin(hint) is Literal:
        choices = list(typing.get_args(hint))
        if value not in choices:
            raise ScenarioError(f"{where}: {value!r} is not known{_nearest(str(value), choices)}")
        return value
    return _scalar(hint, value, where)


def _scalar(hint: type, value: Any, where: str) -> Any:
    if hint is float and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if type(value) is not hint:
        raise ScenarioError(f"{where}: expected {hint.__name__}, not {value!r}")
    if isinstance(value, float) and not math.isfinite(value):
        raise ScenarioError(f"{where}: expected a finite number")
    return value
