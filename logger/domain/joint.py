"""What is to be welded: the operator's entry for one joint, units converted."""

from dataclasses import dataclass, field
from enum import StrEnum

from logger.domain.source import Mark, Source


class WallRule(StrEnum):
    """How the wall was come by; the record keeps it."""

    ENTERED = "entered"
    DN_OVER_SDR = "dn/sdr"
    TABLE_MIN = "table-min"
    TABLE_MEAN = "table-mean"
    TABLE_MAX = "table-max"


ENTERED_WALL = Source(mark=Mark.GIVEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeEnd:
    """One side of the joint. `wall_mm` is already resolved by `wall_rule`; `sdr` is what was entered."""

    material: str
    outside_diameter_mm: float
    wall_mm: float
    wall_rule: WallRule
    sdr: float | None = None
    code: str = ""
    is_fitting: bool = False
    melt_flow_rate: float | None = None
    """MFR 190/5 in g/10 min as the maker states it."""
    out_of_round_mm: float | None = None
    """Greatest less least outside diameter of the clamped end, as measured."""
    skin_diameter_mm: float | None = None
    """Outside diameter over the skin of a skinned pipe; `outside_diameter_mm` is then that of the core."""
    wall_source: Source = ENTERED_WALL
    """Of a wall from a table: the cell's source, or the rule that computed it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One joint as entered. `pipe_b` equals `pipe_a` when the file has a single `[pipe]` table.

    `piston_area_mm2` is the total effective piston area of the carriage, `None` until a rig file gives it.
    `drag_pressure_bar` is the confirmed drag, `None` while not measured.
    """

    joint: str
    procedure: str
    pipe_a: PipeEnd
    pipe_b: PipeEnd
    ambient_temperature_degC: float | None = None
    drag_pressure_bar: float | None = None
    piston_area_mm2: float | None = None
    operator: str = ""
    operator_badge: str = ""
    """Number of the operator's badge (ISO 12176-3) as text; never shortened, it may begin with zeros."""
    project: str = ""
    place: str = ""
    coordinates_deg: tuple[float, float] | None = None
    """Latitude and longitude in decimal degrees, north and east positive."""
    options: frozenset[str] = field(default_factory=frozenset)
