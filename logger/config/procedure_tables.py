"""The shape of a procedure file; `procedure_reader` gives it its meaning."""

import math
from typing import Literal

from pydantic import Field, StrictFloat, StrictInt, StrictStr

from logger.config.toml_file import FileModel
from logger.domain.phase import Phase
from logger.domain.procedure import BeadMeasure, CoolingEndKind, PreparationCode, SoakLimit, Variable

FormulaText = StrictStr | StrictInt | StrictFloat
Marks = Literal["seen", "from memory", "common practice, no source", "computed"]

TO_DOMAIN: dict[str, tuple[float, float]] = {
    "mm": (1.0, 0.0), "in": (25.4, 0.0), "s": (1.0, 0.0), "min": (60.0, 0.0),
    "MPa": (1.0, 0.0), "N/mm2": (1.0, 0.0), "kPa": (0.001, 0.0), "bar": (0.1, 0.0),
    "psi": (0.006894757293168, 0.0), "degC": (1.0, 0.0), "degF": (5 / 9, -160 / 9), "1": (1.0, 0.0),
    "g/10min": (1.0, 0.0),
}  # fmt: skip
"""Gain and offset from a unit of a procedure file to the domain unit of its kind (mm, s, MPa, degC)."""

LENGTHS, TIMES, PRESSURES, TEMPERATURES = (
    ("mm", "in"),
    ("s", "min"),
    ("N/mm2", "MPa", "kPa", "bar", "psi"),
    (
        "degC",
        "degF",
    ),
)


class SourceTable(FileModel):
    text: str = Field(min_length=3)
    """Document, edition, clause or table; and where it was read, if that was another document."""
    mark: Marks


class LimitTable(FileModel):
    min: FormulaText | None = None
    above: FormulaText | None = None
    """As `min`, the value itself excluded."""
    max: FormulaText | None = None
    unit: Literal["mm", "in", "degC", "degF", "1", "g/10min"]
    source: str


class MaterialsTable(FileModel):
    are: tuple[str, ...] = Field(min_length=1)
    source: str


class ScopeTable(FileModel):
    materials: MaterialsTable
    wall: LimitTable | None = None
    diameter: LimitTable | None = None
    sdr: LimitTable | None = None
    ambient: LimitTable | None = None
    melt_flow: LimitTable | None = None
    """MFR 190/5, unit "g/10min"; checked where the joint file gives it."""


class BandTable(FileModel):
    min: FormulaText | None = None
    target: FormulaText | None = None
    max: FormulaText | None = None
    unit: str
    source: str
    materials: tuple[str, ...] = ()


class GuideTable(FileModel):
    over: Variable
    columns: tuple[str, ...] = Field(min_length=1)
    rows: tuple[tuple[tuple[float, float] | float, ...], ...] = Field(min_length=1)
    """Each row: `[from, to]` of `over`, then per column one number or `[at_from, at_to]`."""
    shared_edge: Literal["lower row", "upper row"] = "lower row"
    source: str


class WallRange(FileModel):
    above: float = 0.0
    up_to: float = math.inf


class DwellTable(FileModel):
    """How long pressure may be outside its band and still be a remark."""

    up_to: float = Field(gt=0)
    after: float | None = Field(default=None, ge=0)
    """In cooling: only from this long after the faces' first contact on; it has to be given there."""
    unit: Literal["s", "min"]


class StepTable(FileModel):
    phase: Phase
    wall_mm: WallRange = WallRange()
    """The walls that this step belongs to, in mm; left out, all."""
    interface_pressure: BandTable | None = None
    duration: BandTable | None = None
    bead: BandTable | None = None
    dwell: DwellTable | None = None


class SoakTable(FileModel):
    limit: SoakLimit
    source: str


class UnequalTable(FileModel):
    limit: FormulaText
    plan_by: Literal["thinner", "thicker"]
    unit: Literal["mm", "in"]
    source: str


class WorkshopTable(FileModel):
    factor: float = Field(gt=0, lt=1)
    wall_from_mm: float
    conditions: str
    source: str


class PreparationTable(FileModel):
    code: PreparationCode
    min: FormulaText | None = None
    max: FormulaText | None = None
    unit: Literal["mm", "in"] = "mm"
    source: str


class PreparationFile(FileModel):
    """The preparation limits that hold where a procedure names none of its own."""

    format: Literal[1]
    source: dict[str, SourceTable]
    preparation: tuple[PreparationTable, ...]


class ProcedureFile(FileModel):
    """A procedure file, format 1; its keys are documented in DEVELOPERS.md, "Add a procedure"."""

    format: Literal[1]
    id: str = Field(pattern=r"^[a-z0-9][a-z0-9.:/-]{1,60}$")
    title: str
    document: str
    edition: str
    bead_measure: BeadMeasure = BeadMeasure.HEIGHT
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    source: dict[str, SourceTable]
    scope: ScopeTable
    soak_limit: SoakTable
    plate_temperature: tuple[BandTable, ...] = Field(min_length=1)
    table: dict[str, GuideTable] = Field(default_factory=dict)
    step: tuple[StepTable, ...]
    cooling_end: dict[CoolingEndKind, BandTable] = Field(default_factory=dict)
    preparation: tuple[PreparationTable, ...] = ()
    unequal_walls: UnequalTable | None = None
    workshop_reduction: WorkshopTable | None = None
    heat_through: BandTable | None = None
    """`min`: how long the plate is in its band before work, counted from each switch-on."""
