"""From a procedure file to the domain value: sources resolved, formulas parsed, units converted."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from logger.config.formula import Tables, folded, nearest, parse_formula
from logger.config.procedure_tables import (
    LENGTHS,
    PRESSURES,
    TEMPERATURES,
    TIMES,
    TO_DOMAIN,
    BandTable,
    FormulaText,
    GuideTable,
    LimitTable,
    ProcedureFile,
)
from logger.config.toml_file import Document, Place
from logger.domain.phase import PHASES
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
    Procedure,
    Row,
    ScopeLimit,
    StepRule,
    UnequalWalls,
    Variable,
    WorkshopReduction,
)
from logger.domain.source import Mark, Source


def procedure_from(document: Document) -> Procedure:
    """Return the procedure of a file. Raises InputError naming file, key and line."""
    checked = document.checked(ProcedureFile)
    return _Reader(document, checked).procedure()


class _Reader:
    """Turns a checked file into the domain value; knows where each key stands, to name it in errors."""

    def __init__(self, document: Document, checked: ProcedureFile) -> None:
        self._document = document
        self._file = checked
        self._tables: Tables = {
            name: self._columns(table, ("table", name)) for name, table in checked.table.items()
        }

    def procedure(self) -> Procedure:
        file = self._file
        return Procedure(
            id=file.id,
            title=file.title,
            document=file.document,
            edition=file.edition,
            materials=self._materials(file.scope.materials.are, ("scope", "materials", "are")),
            materials_source=self._source(file.scope.materials.source, ("scope", "materials", "source")),
            scope=tuple(self._scope()),
            plate_temperature_degC=tuple(
                self._band(band, ("plate_temperature", index), TEMPERATURES)
                for index, band in enumerate(file.plate_temperature)
            ),
            steps=self._steps(),
            soak_limit=file.soak_limit.limit,
            soak_limit_source=self._source(file.soak_limit.source, ("soak_limit", "source")),
            bead_measure=file.bead_measure,
            cooling_ends_s={
                kind: self._band(band, ("cooling_end", str(kind)), TIMES)
                for kind, band in file.cooling_end.items()
            },
            unequal_walls=self._unequal_walls(),
            workshop_reduction=self._workshop_reduction(),
            notes=file.notes,
            cautions=file.cautions,
            digest=self._document.digest,
            file=self._document.file,
        )

    def _source(self, name: str, place: Place) -> Source:
        if name not in self._file.source:
            raise self._document.error(
                place, f'unknown source "{name}"{nearest(name, list(self._file.source))}'
            )
        table = self._file.source[name]
        return Source(mark=Mark(table.mark), text=table.text)

    def _materials(self, names: Iterable[str], place: Place) -> frozenset[str]:
        for name in names:
            if name not in MATERIALS:
                raise self._document.error(
                    place, f'unknown material "{name}"{nearest(name, list(MATERIALS))}'
                )
        return frozenset(names)

    def _scope(self) -> Iterable[ScopeLimit]:
        for variable in (Variable.WALL, Variable.DIAMETER, Variable.SDR, Variable.AMBIENT):
            limit: LimitTable | None = getattr(self._file.scope, variable)
            if limit is None:
                continue
            place = ("scope", str(variable))
            units = {Variable.SDR: ("1",), Variable.AMBIENT: TEMPERATURES}.get(variable, LENGTHS)
            self._check_unit(limit.unit, units, place)
            yield ScopeLimit(
                variable=variable,
                min=_converted(limit.min, limit.unit),
                max=_converted(limit.max, limit.unit),
                source=self._source(limit.source, (*place, "source")),
            )

    def _check_unit(self, unit: str, units: Sequence[str], place: Place) -> None:
        if unit not in units:
            raise self._document.error(
                (*place, "unit"), f'unit "{unit}" does not fit here; one of {", ".join(units)}'
            )

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
        self._source(table.source, (*place, "source"))
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
        pairs = [cell if isinstance(cell, tuple) else (cell, cell) for cell in row]
        if not pairs[0][0] < pairs[0][1]:
            raise self._document.error(place, f"row {number} must begin with [from, to], from below to")
        return pairs

    def _formula(self, text: FormulaText | None, unit: str, place: Place) -> Formula | None:
        if text is None:
            return None
        try:
            tree = parse_formula(str(text), self._tables)
            gain, offset = TO_DOMAIN[unit]
            return Formula(text=str(text), unit=unit, tree=_in_domain_unit(tree, gain, offset))
        except ValueError as error:
            raise self._document.error(place, str(error)) from None

    def _band(self, band: BandTable | None, place: Place, units: Sequence[str]) -> BandRule:
        if band is None:
            return NO_RULE
        self._check_unit(band.unit, units, place)
        return BandRule(
            min=self._formula(band.min, band.unit, (*place, "min")),
            target=self._formula(band.target, band.unit, (*place, "target")),
            max=self._formula(band.max, band.unit, (*place, "max")),
            source=self._source(band.source, (*place, "source")),
            materials=self._materials(band.materials, (*place, "materials")),
        )

    def _steps(self) -> tuple[StepRule, ...]:
        order = [step.phase for step in self._file.step]
        if sorted(order, key=PHASES.index) != order or set(order) != set(PHASES):
            raise self._document.error(
                ("step",), f"steps must be {', '.join(PHASES)} in this order; only a phase may repeat"
            )
        return tuple(
            StepRule(
                phase=step.phase,
                interface_pressure_MPa=self._band(
                    step.interface_pressure, ("step", index, "interface_pressure"), PRESSURES
                ),
                duration_s=self._band(step.duration, ("step", index, "duration"), TIMES),
                bead_mm=self._band(step.bead, ("step", index, "bead"), LENGTHS),
            )
            for index, step in enumerate(self._file.step)
        )

    def _unequal_walls(self) -> UnequalWalls | None:
        table = self._file.unequal_walls
        if table is None:
            return None
        limit = self._formula(table.limit, table.unit, ("unequal_walls", "limit"))
        if limit is None:
            return None
        source = self._source(table.source, ("unequal_walls", "source"))
        return UnequalWalls(limit_mm=limit, plan_by=table.plan_by, source=source)

    def _workshop_reduction(self) -> WorkshopReduction | None:
        table = self._file.workshop_reduction
        if table is None:
            return None
        return WorkshopReduction(
            factor=table.factor,
            wall_from_mm=table.wall_from_mm,
            conditions=table.conditions,
            source=self._source(table.source, ("workshop_reduction", "source")),
        )


def _converted(value: float | None, unit: str) -> float | None:
    if value is None:
        return None
    gain, offset = TO_DOMAIN[unit]
    return value * gain + offset


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
