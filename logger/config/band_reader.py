"""Bands, sources and tables of a procedure file to the domain: formulas parsed, units converted."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from logger.config.formula import Tables, folded, nearest, parse_formula
from logger.config.procedure_tables import (
    LENGTHS,
    TO_DOMAIN,
    BandTable,
    FormulaText,
    GuideTable,
    PreparationTable,
    SourceTable,
)
from logger.config.toml_file import Document, Place
from logger.domain.procedure import (
    MATERIALS,
    NO_RULE,
    BandRule,
    Choice,
    Column,
    Expression,
    Formula,
    Number,
    Operator,
    PreparationRule,
    PrintedTable,
    Row,
)
from logger.domain.source import Mark, Source


class BandReader:
    """Reads the values of one file; errors name the key by its place in `document`."""

    def __init__(
        self, document: Document, sources: Mapping[str, SourceTable], tables: Mapping[str, GuideTable]
    ) -> None:
        self._document = document
        self._sources = sources
        self._tables: Tables = {name: self._columns(table, ("table", name)) for name, table in tables.items()}

    def source(self, name: str, place: Place) -> Source:
        if name not in self._sources:
            raise self._document.error(place, f'unknown source "{name}"{nearest(name, list(self._sources))}')
        table = self._sources[name]
        return Source(mark=Mark(table.mark), text=table.text)

    def materials(self, names: Iterable[str], place: Place) -> frozenset[str]:
        for name in names:
            if name not in MATERIALS:
                raise self._document.error(
                    place, f'unknown material "{name}"{nearest(name, list(MATERIALS))}'
                )
        return frozenset(names)

    def check_unit(self, unit: str, units: Sequence[str], place: Place) -> None:
        if unit not in units:
            raise self._document.error(
                (*place, "unit"), f'unit "{unit}" does not fit here; one of {", ".join(units)}'
            )

    def formula(self, text: FormulaText | None, unit: str, place: Place) -> Formula | None:
        if text is None:
            return None
        try:
            tree = parse_formula(str(text), self._tables)
            gain, offset = TO_DOMAIN[unit]
            return Formula(text=str(text), unit=unit, tree=_in_domain_unit(tree, gain, offset))
        except ValueError as error:
            raise self._document.error(place, str(error)) from None

    def band(self, band: BandTable | None, place: Place, units: Sequence[str]) -> BandRule:
        if band is None:
            return NO_RULE
        self.check_unit(band.unit, units, place)
        low = self.formula(band.min, band.unit, (*place, "min"))
        high = self.formula(band.max, band.unit, (*place, "max"))
        target = self.formula(band.target, band.unit, (*place, "target"))
        return BandRule(
            min=low,
            # The same formula is worked out once: the planner looks at the identity.
            target=low if target == low else high if target == high else target,
            max=high,
            source=self.source(band.source, (*place, "source")),
            materials=self.materials(band.materials, (*place, "materials")),
        )

    def printed_tables(self, tables: Mapping[str, GuideTable]) -> tuple[PrintedTable, ...]:
        return tuple(
            PrintedTable(
                name=name,
                over=table.over,
                columns=table.columns,
                rows=tuple(tuple(_pair(cell) for cell in row) for row in table.rows),
                source=self.source(table.source, ("table", name, "source")),
            )
            for name, table in tables.items()
        )

    def preparation(self, tables: Sequence[PreparationTable]) -> tuple[PreparationRule, ...]:
        rules = []
        for index, table in enumerate(tables):
            place: Place = ("preparation", index)
            self.check_unit(table.unit, LENGTHS, place)
            limit = BandRule(
                min=self.formula(table.min, table.unit, (*place, "min")),
                max=self.formula(table.max, table.unit, (*place, "max")),
                source=self.source(table.source, (*place, "source")),
            )
            rules.append(PreparationRule(code=table.code, limit_mm=limit))
        return tuple(rules)

    def _columns(self, table: GuideTable, place: Place) -> dict[str, Column]:
        rows = [
            self._row(row, len(table.columns), (*place, "rows"), number)
            for number, row in enumerate(table.rows, 1)
        ]
        for number, (before, after) in enumerate(pairwise(rows), 2):
            if before[0][1] != after[0][0]:
                raise self._document.error(
                    (*place, "rows"),
                    f"row {number} begins at {after[0][0]:g}, the row before ends at {before[0][1]:g}",
                )
        self.source(table.source, (*place, "source"))
        return {
            name: Column(
                over=table.over,
                rows=tuple(Row(*row[0], *row[index]) for row in rows),
                edge_to_upper=table.shared_edge == "upper row",
            )
            for index, name in enumerate(table.columns, 1)
        }

    def _row(
        self, row: Sequence[tuple[float, float] | float], columns: int, place: Place, number: int
    ) -> list[tuple[float, float]]:
        if len(row) != columns + 1:
            raise self._document.error(place, f"row {number} has {len(row) - 1} values for {columns} columns")
        pairs = [_pair(cell) for cell in row]
        if not pairs[0][0] < pairs[0][1]:
            raise self._document.error(place, f"row {number} must begin with [from, to], from below to")
        return pairs


def _pair(cell: tuple[float, float] | float) -> tuple[float, float]:
    return cell if isinstance(cell, tuple) else (cell, cell)


def _in_domain_unit(tree: Expression, gain: float, offset: float) -> Expression:
    if (gain, offset) == (1.0, 0.0) or tree == Number(None):
        return tree
    if isinstance(tree, Choice):
        return Choice(
            tree.left, tree.comparison, tree.right,
            _in_domain_unit(tree.then, gain, offset), _in_domain_unit(tree.otherwise, gain, offset),
        )  # fmt: skip
    if isinstance(tree, Column):
        rows = tuple(
            Row(row.low, row.high, row.at_low * gain + offset, row.at_high * gain + offset)
            for row in tree.rows
        )
        return Column(tree.over, rows, tree.edge_to_upper)
    scaled = folded(Operator.MULTIPLY, tree, Number(gain))
    return scaled if offset == 0 else folded(Operator.ADD, scaled, Number(offset))
