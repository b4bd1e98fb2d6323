"""Dimension tables of pipe standards in `configs/dimensions`: each wall with its source."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from pydantic import Field

from logger.config.formula import nearest
from logger.config.procedure_tables import SourceTable
from logger.config.toml_file import Document, FileModel
from logger.domain.geometry import greatest_wall_mm, series_wall_mm
from logger.domain.joint import WallRule
from logger.domain.source import Mark, Source

_MM_PER_INCH = 25.4
_SAME = 1e-6
_RULE = "rule"

Cells = dict[str, dict[str, dict[str, tuple[float] | tuple[float, float]]]]


class DimensionFile(FileModel):
    """One table: metric sizes with a series per SDR, or inch sizes by nominal size."""

    format: Literal[1]
    id: str
    title: str
    outside_diameters_mm: tuple[float, ...] = ()
    series: dict[str, int] = Field(default_factory=dict)
    nominal_in: dict[str, float] = Field(default_factory=dict)
    source: dict[str, SourceTable]
    cells: Cells = Field(default_factory=dict)
    """`[cells.SOURCE."SDR"]`: size = [least wall] or [least wall, greatest wall]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """A wall of a table, with the source of the cell or of the rule that computed it."""

    wall_mm: float
    source: Source


class DimensionTable:
    """Looks up outside diameters and walls of one table."""

    def __init__(self, file: DimensionFile) -> None:
        self._file = file
        self.id = file.id

    @property
    def is_inch(self) -> bool:
        return bool(self._file.nominal_in)

    def outside_diameter_mm(self, nominal: str) -> float:
        """Return the outside diameter of a nominal inch size. Raises ValueError with the nearest sizes."""
        sizes = self._file.nominal_in
        if nominal not in sizes:
            raise ValueError(f'no size "{nominal}" in {self._file.title}{nearest(nominal, list(sizes))}')
        return round(sizes[nominal] * _MM_PER_INCH, 9)

    def wall(self, outside_diameter_mm: float, sdr: float, rule: WallRule) -> Wall:
        """Return the wall that `rule` takes from the table.

        Raises:
            ValueError: the table has no such size or SDR, or no greatest wall where the rule needs it.
        """
        size = self._size(outside_diameter_mm)
        least, greatest = self._edges(size, outside_diameter_mm, sdr)
        if rule is WallRule.TABLE_MIN:
            return least
        if greatest is None:
            raise ValueError(f"{self._file.title} has no greatest wall for {size}; use table-min or the wall")
        if rule is WallRule.TABLE_MAX:
            return greatest
        mean = (least.wall_mm + greatest.wall_mm) / 2
        computed = Mark.COMPUTED in (least.source.mark, greatest.source.mark)
        return Wall(wall_mm=mean, source=greatest.source if computed else least.source)

    def sdrs(self) -> tuple[float, ...]:
        """Return every SDR that the table has a series for, thick walls first."""
        return tuple(sorted(float(sdr) for sdr in self._file.series))

    def sizes_mm(self) -> tuple[float, ...]:
        """Return every outside diameter of the table."""
        if self.is_inch:
            return tuple(round(inch * _MM_PER_INCH, 9) for inch in self._file.nominal_in.values())
        return self._file.outside_diameters_mm

    def nominal_sizes(self) -> tuple[str, ...]:
        """Return the nominal sizes of an inch table; a metric one has none."""
        return tuple(self._file.nominal_in)

    def _size(self, outside_diameter_mm: float) -> str:
        if self.is_inch:
            for size, inch in self._file.nominal_in.items():
                if abs(inch * _MM_PER_INCH - outside_diameter_mm) < _SAME:
                    return size
        else:
            for dn in self._file.outside_diameters_mm:
                if abs(dn - outside_diameter_mm) < _SAME:
                    return f"{dn:g}"
        raise ValueError(f"no outside diameter {outside_diameter_mm:g} mm in {self._file.title}")

    def _edges(self, size: str, outside_diameter_mm: float, sdr: float) -> tuple[Wall, Wall | None]:
        label = f"{sdr:g}"
        for name, by_sdr in self._file.cells.items():
            cell = by_sdr.get(label, {}).get(size)
            if cell is not None:
                return self._of_cell(cell, self._source(name))
        if self.is_inch:
            inch = round(outside_diameter_mm / _MM_PER_INCH / sdr, 3)
            return Wall(wall_mm=round(inch * _MM_PER_INCH, 9), source=self._source(_RULE)), None
        if label not in self._file.series:
            near = min(self._file.series, key=lambda known: abs(float(known) - sdr))
            raise ValueError(f"no SDR {label} in {self._file.title}; nearest: {near}")
        least = series_wall_mm(outside_diameter_mm, self._file.series[label])
        return self._of_cell((least,), self._source(_RULE))

    def _of_cell(self, cell: tuple[float] | tuple[float, float], source: Source) -> tuple[Wall, Wall | None]:
        least = Wall(wall_mm=cell[0], source=source)
        if self.is_inch:
            return Wall(wall_mm=round(cell[0] * _MM_PER_INCH, 9), source=source), None
        if len(cell) == 2:
            return least, Wall(wall_mm=cell[1], source=source)
        return least, Wall(wall_mm=greatest_wall_mm(cell[0]), source=self._source(_RULE))

    def _source(self, name: str) -> Source:
        table = self._file.source[name]
        return Source(mark=Mark(table.mark), text=f"{self._file.title}: {table.text}")


def standard_pipes() -> Iterator[tuple[float, float]]:
    """Yield outside diameter in mm and SDR of every pipe of the metric table."""
    metric = dimension_tables()["iso-4065"]
    for diameter_mm in metric.sizes_mm():
        for sdr in metric.sdrs():
            yield diameter_mm, sdr


@cache
def dimension_tables() -> dict[str, DimensionTable]:
    """Return the built-in tables by id: iso-4065, ips, dips."""
    folder = resources.files("configs") / "dimensions"
    found: dict[str, DimensionTable] = {}
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".toml"):
            document = Document(entry.read_text(encoding="utf-8"), f"built-in {entry.name}")
            table = DimensionTable(document.checked(DimensionFile))
            found[table.id] = table
    return found
