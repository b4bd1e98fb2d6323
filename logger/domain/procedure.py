"""A fusion procedure as data: scope, formulas as small trees, and the source of every value."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from logger.domain.band import NO_BAND, Band
from logger.domain.phase import Phase
from logger.domain.source import NOT_GIVEN, Source

MATERIALS: tuple[str, ...] = ("PE80", "PE100", "PP-H", "PP-B", "PP-R", "PVDF")


class Variable(StrEnum):
    """What a formula or the scope may speak of, in mm, inch, degC and g/10 min (MFR 190/5)."""

    WALL = "wall"
    DIAMETER = "diameter"
    SDR = "sdr"
    AMBIENT = "ambient"
    MELT_FLOW = "melt_flow"
    WALL_IN = "wall_in"
    DIAMETER_IN = "diameter_in"


class Operator(StrEnum):
    ADD = "+"
    SUBTRACT = "-"
    MULTIPLY = "*"
    DIVIDE = "/"
    MINIMUM = "min"
    MAXIMUM = "max"


class Comparison(StrEnum):
    BELOW = "<"
    AT_MOST = "<="
    ABOVE = ">"
    AT_LEAST = ">="


@dataclass(frozen=True, slots=True)
class Number:
    """A constant; `None` is `not_given`."""

    value: float | None


@dataclass(frozen=True, slots=True)
class Operation:
    operator: Operator
    left: "Expression"
    right: "Expression"


@dataclass(frozen=True, slots=True)
class Choice:
    """`then` where `left comparison right` holds, `otherwise` elsewhere."""

    left: "Expression"
    comparison: Comparison
    right: "Expression"
    then: "Expression"
    otherwise: "Expression"


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: the value runs linearly from `at_low` to `at_high` inside `low`..`high`."""

    low: float
    high: float
    at_low: float
    at_high: float


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a printed table over one variable; outside its rows it has no value.

    Rows adjoin. An edge shared by two rows belongs to the lower one, as "4.5 to 7" is read after "up to
    4.5", or to the upper one where the table lists points (`edge_to_upper`).
    """

    over: Variable
    rows: tuple[Row, ...]
    edge_to_upper: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedTable:
    """A table as the file holds it, for people; a row is its range of `over`, then (from, to) per column."""

    name: str
    over: Variable
    columns: tuple[str, ...]
    rows: tuple[tuple[tuple[float, float], ...], ...]
    source: Source


Expression = Number | Variable | Operation | Choice | Column


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A formula as written (`text`, `unit`) and as a tree that already yields the domain unit."""

    text: str
    unit: str
    tree: Expression


@dataclass(frozen=True, slots=True, kw_only=True)
class BandRule:
    """Lower edge, target and upper edge of one value; `materials` empty means every material in scope.

    `constant` is the band itself where no edge depends on the joint.
    """

    min: Formula | None = None
    target: Formula | None = None
    max: Formula | None = None
    source: Source = NOT_GIVEN
    materials: frozenset[str] = frozenset()
    constant: Band | None = field(init=False, default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        edges: list[float | None] = []
        for formula in (self.min, self.target, self.max):
            tree = None if formula is None else formula.tree
            if tree is not None and not isinstance(tree, Number):
                return
            edges.append(None if tree is None else tree.value)
        low, target, high = edges
        band = Band(min=low, target=target, max=high, source=self.source)
        object.__setattr__(self, "constant", band if band.is_given else NO_BAND)


NO_RULE = BandRule()


@dataclass(frozen=True, slots=True, kw_only=True)
class ScopeLimit:
    """One limit of the scope, in the unit of `variable`; `None` where the procedure sets none.

    The edges belong to the scope, except `min` where `is_min_excluded`.
    """

    variable: Variable
    min: Formula | None = None
    max: Formula | None = None
    is_min_excluded: bool = False
    source: Source = NOT_GIVEN


class SoakLimit(StrEnum):
    """What the procedure limits during heat soak."""

    INTERFACE = "interface"
    """An interface pressure: on the gauge it is limit x A / Ac + drag."""
    DRAG_OR_LESS = "drag or less"
    """The gauge reading itself: drag is the limit."""


class BeadMeasure(StrEnum):
    """Which dimension of the bead the procedure's formula gives."""

    HEIGHT = "height"
    WIDTH = "width"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRule:
    """One step of the cycle, for walls above `wall_above_mm` and up to `wall_up_to_mm`."""

    phase: Phase
    wall_above_mm: float = 0.0
    wall_up_to_mm: float = math.inf
    interface_pressure_MPa: BandRule = NO_RULE
    duration_s: BandRule = NO_RULE
    bead_mm: BandRule = NO_RULE
    """Only `target` is used."""
    dwell_s: float = 0.0
    dwell_after_s: float = 0.0
    """As in the plan's step."""


class CoolingEndKind(StrEnum):
    """The ends of cooling after the pressure is taken off."""

    IN_MACHINE = "in_machine_without_pressure"
    OUT_OF_CLAMPS = "before_rough_handling"
    PRESSURE_TEST = "before_pressure_test"


@dataclass(frozen=True, slots=True, kw_only=True)
class UnequalWalls:
    """Walls that differ by at most `limit_mm` (a formula of the thinner pipe) are planned by `plan_by`."""

    limit_mm: Formula
    plan_by: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkshopReduction:
    """Declared shortening of cooling: `factor` of the printed time from `wall_from_mm` on."""

    factor: float
    wall_from_mm: float
    conditions: str
    source: Source


class PreparationCode(StrEnum):
    """What is checked before the plate goes in; a limit is in mm where it has one."""

    END_BEYOND_CLAMP = "end_beyond_clamp"
    UNBROKEN_SHAVING = "unbroken_shaving"
    CHIP_THICKNESS = "chip_thickness"
    GAP = "gap"
    MISALIGNMENT = "misalignment"
    OUT_OF_ROUND = "out_of_round"
    SKIN_REMOVED = "skin_removed"
    FACES_NOT_TOUCHED = "faces_not_touched"
    HEATER_CHECKED = "heater_checked"
    DRAG_MEASURED = "drag_measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparationLimit:
    """One check before the plate goes in, with its limit where it has one."""

    code: PreparationCode
    limit_mm: Band
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparationRule:
    """The rule of one check; `constant` is the check itself where its limit does not depend on the joint."""

    code: PreparationCode
    limit_mm: BandRule
    constant: PreparationLimit | None = field(init=False, default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        band = self.limit_mm.constant
        if band is not None:
            limit = PreparationLimit(code=self.code, limit_mm=band, source=self.limit_mm.source)
            object.__setattr__(self, "constant", limit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """One procedure in one edition. `digest` is the SHA-256 of the file it was read from."""

    id: str
    title: str
    document: str
    edition: str
    materials: frozenset[str]
    materials_source: Source
    scope: tuple[ScopeLimit, ...]
    plate_temperature_degC: tuple[BandRule, ...]
    steps: tuple[StepRule, ...]
    soak_limit: SoakLimit
    soak_limit_source: Source
    bead_measure: BeadMeasure = BeadMeasure.HEIGHT
    cooling_ends_s: Mapping[CoolingEndKind, BandRule] = field(default_factory=dict)
    unequal_walls: UnequalWalls | None = None
    workshop_reduction: WorkshopReduction | None = None
    preparation: tuple[PreparationRule, ...] = ()
    heat_through_s: BandRule = NO_RULE
    """Time of the plate in its band before work; where it gives none the general one holds."""
    tables: tuple[PrintedTable, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    digest: str = ""
    file: str = ""
