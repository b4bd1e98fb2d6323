"""`[pipe]` of joint.toml: material, outside diameter and wall of one or two pipe ends."""

from typing import Any, Literal

from pydantic import Field

from logger.config.dimensions import DimensionTable, dimension_tables
from logger.config.formula import nearest
from logger.config.quantity import Length, Rod
from logger.config.toml_file import Document, FileModel, Place
from logger.domain.joint import ENTERED_WALL, PipeEnd, WallRule
from logger.domain.procedure import MATERIALS
from logger.domain.source import Mark, Source
from logger.errors import InputError

_CONFLICT_MM = 0.2
_CONFLICT_SHARE = 0.02
_SDR_MIN, _SDR_MAX = 3.0, 60.0
_METRIC = "iso-4065"
_BY_SDR = Source(mark=Mark.COMPUTED, text="dn / SDR")


class PipeTable(FileModel):
    """`[pipe]`, or `[pipe.a]` and `[pipe.b]`."""

    material: str
    """PE80, PE100, PP-H, PP-B, PP-R or PVDF."""
    outside_diameter: Length | None = None
    nominal_size: str | None = None
    """An inch size instead of the outside diameter: "IPS 8" or "DIPS 12"."""
    sdr: float | None = Field(default=None, ge=_SDR_MIN, le=_SDR_MAX, strict=True)
    """Standard dimension ratio; the wall is then dn / SDR unless `wall_rule` asks for a table."""
    wall_thickness: Length | None = None
    """Measured or printed wall; it governs where both are given and agree."""
    wall_rule: str | None = None
    """What gives the wall: "dn/sdr" (unless said otherwise), "table-min", "table-mean" or "table-max"."""
    dimension_table: str | None = None
    """The table that `wall_rule` reads: "iso-4065" unless `nominal_size` names another."""
    kind: Literal["pipe", "fitting"] = "pipe"
    melt_flow_rate: float | None = Field(default=None, gt=0, le=20, strict=True)
    """MFR 190/5 in g/10 min, as the maker states it."""
    core_diameter: Length | None = None
    """Of a skinned pipe: the diameter under the skin, which is welded."""
    out_of_round: Rod | None = None
    """Greatest less least outside diameter of the clamped end, as measured."""
    code: str = ""
    """The maker's traceability code, as printed on the pipe."""


class TwoEndsTable(FileModel):
    a: PipeTable
    b: PipeTable


def pipe_ends(document: Document, pipe: dict[str, Any]) -> tuple[PipeEnd, PipeEnd]:
    """Return both ends; the same value twice where the file has a single `[pipe]` table.

    Raises:
        InputError: naming the key, with the nearest valid choice.
    """
    if isinstance(pipe.get("a"), dict) or isinstance(pipe.get("b"), dict):
        both = document.checked(TwoEndsTable, pipe, ("pipe",))
        return _Pipe(document, both.a, ("pipe", "a")).end(), _Pipe(document, both.b, ("pipe", "b")).end()
    end = _Pipe(document, document.checked(PipeTable, pipe, ("pipe",)), ("pipe",)).end()
    return end, end


class _Pipe:
    """One table of a pipe and its place in the file."""

    def __init__(self, document: Document, pipe: PipeTable, place: Place) -> None:
        self._document = document
        self._pipe = pipe
        self._place = place

    def end(self) -> PipeEnd:
        pipe = self._pipe
        if pipe.material not in MATERIALS:
            raise self._error(
                "material", f'unknown material "{pipe.material}"{nearest(pipe.material, list(MATERIALS))}'
            )
        diameter_mm, table = self._diameter()
        skin_mm = None
        if pipe.core_diameter is not None:
            if pipe.core_diameter >= diameter_mm:
                raise self._error("core_diameter", "must be less than the diameter over the skin")
            diameter_mm, skin_mm = pipe.core_diameter, diameter_mm
        wall_mm, rule, source = self._wall(diameter_mm, table)
        if 2 * wall_mm >= diameter_mm:
            raise self._error(
                "wall_thickness",
                f"{wall_mm:g} mm leaves no bore in a pipe of {diameter_mm:g} mm outside diameter",
            )
        return PipeEnd(
            material=pipe.material,
            outside_diameter_mm=diameter_mm,
            wall_mm=wall_mm,
            wall_rule=rule,
            sdr=pipe.sdr,
            code=pipe.code,
            is_fitting=pipe.kind == "fitting",
            melt_flow_rate=pipe.melt_flow_rate,
            out_of_round_mm=pipe.out_of_round,
            skin_diameter_mm=skin_mm,
            wall_source=source,
        )

    def _error(self, key: str, message: str) -> InputError:
        return self._document.error((*self._place, key), message)

    def _diameter(self) -> tuple[float, DimensionTable]:
        """Return the outside diameter and the table that walls are read from."""
        pipe, tables = self._pipe, dimension_tables()
        name = pipe.dimension_table or _METRIC
        if name not in tables:
            raise self._error("dimension_table", f'unknown table "{name}"{nearest(name, list(tables))}')
        if pipe.nominal_size is None:
            if pipe.outside_diameter is None:
                raise self._error("outside_diameter", "outside_diameter or nominal_size is needed")
            return pipe.outside_diameter, tables[name]
        if pipe.outside_diameter is not None:
            raise self._error("nominal_size", "outside_diameter is given too; leave one out")
        family, _, size = pipe.nominal_size.partition(" ")
        inch = {key.upper(): table for key, table in tables.items() if table.is_inch}
        if family.upper() not in inch:
            raise self._error("nominal_size", f'"{pipe.nominal_size}" is no size like "IPS 8" or "DIPS 12"')
        table = inch[family.upper()]
        try:
            return table.outside_diameter_mm(size.strip()), table
        except ValueError as error:
            raise self._error("nominal_size", str(error)) from None

    def _wall(self, diameter_mm: float, table: DimensionTable) -> tuple[float, WallRule, Source]:
        pipe, rules = self._pipe, [str(rule) for rule in WallRule]
        if pipe.wall_rule is not None and pipe.wall_rule not in rules:
            raise self._error("wall_rule", f'unknown rule "{pipe.wall_rule}"{nearest(pipe.wall_rule, rules)}')
        if pipe.wall_thickness is not None:
            self._check_agreement(pipe.wall_thickness, diameter_mm)
            return pipe.wall_thickness, WallRule.ENTERED, ENTERED_WALL
        if pipe.sdr is None:
            raise self._error("sdr", "sdr or wall_thickness is needed")
        rule = WallRule(pipe.wall_rule or WallRule.DN_OVER_SDR)
        if rule is WallRule.DN_OVER_SDR:
            return diameter_mm / pipe.sdr, rule, _BY_SDR
        if rule is WallRule.ENTERED:
            raise self._error("wall_rule", '"entered" needs wall_thickness')
        try:
            wall = table.wall(diameter_mm, pipe.sdr, rule)
        except ValueError as error:
            raise self._error("wall_rule", str(error)) from None
        return wall.wall_mm, rule, wall.source

    def _check_agreement(self, wall_mm: float, diameter_mm: float) -> None:
        pipe = self._pipe
        if pipe.wall_rule not in (None, WallRule.ENTERED):
            raise self._error(
                "wall_rule", f'"{pipe.wall_rule}" and wall_thickness exclude each other; leave one out'
            )
        if pipe.sdr is None:
            return
        from_sdr_mm = diameter_mm / pipe.sdr
        if abs(wall_mm - from_sdr_mm) > max(_CONFLICT_MM, _CONFLICT_SHARE * from_sdr_mm):
            raise self._error(
                "wall_thickness",
                f"{wall_mm:g} mm conflicts with sdr {pipe.sdr:g}, which gives {from_sdr_mm:.2f} mm "
                f"for dn {diameter_mm:g}; leave one out",
            )
