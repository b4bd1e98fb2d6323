"""From a procedure file to the domain value: sources resolved, formulas parsed, units converted."""

import math
from collections.abc import Iterable

from logger.config.band_reader import BandReader
from logger.config.procedure_tables import (
    LENGTHS,
    PRESSURES,
    TEMPERATURES,
    TIMES,
    TO_DOMAIN,
    LimitTable,
    PreparationFile,
    ProcedureFile,
    StepTable,
)
from logger.config.toml_file import Document, Place
from logger.domain.phase import PHASES, Phase
from logger.domain.procedure import (
    PreparationRule,
    Procedure,
    ScopeLimit,
    StepRule,
    UnequalWalls,
    Variable,
    WorkshopReduction,
)

_SCOPE_UNITS: dict[Variable, tuple[str, ...]] = {
    Variable.WALL: LENGTHS,
    Variable.DIAMETER: LENGTHS,
    Variable.SDR: ("1",),
    Variable.AMBIENT: TEMPERATURES,
    Variable.MELT_FLOW: ("g/10min",),
}


def procedure_from(document: Document) -> Procedure:
    """Return the procedure of a file. Raises InputError naming file, key and line."""
    checked = document.checked(ProcedureFile)
    return _Reader(document, checked).procedure()


def preparation_from(document: Document) -> tuple[PreparationRule, ...]:
    """Return the common preparation limits. Raises InputError naming file, key and line."""
    checked = document.checked(PreparationFile)
    return BandReader(document, checked.source, {}).preparation(checked.preparation)


class _Reader:
    """Turns a checked file into the domain value; knows where each key stands, to name it in errors."""

    def __init__(self, document: Document, checked: ProcedureFile) -> None:
        self._document = document
        self._file = checked
        self._bands = BandReader(document, checked.source, checked.table)

    def procedure(self) -> Procedure:
        file = self._file
        return Procedure(
            id=file.id,
            title=file.title,
            document=file.document,
            edition=file.edition,
            materials=self._bands.materials(file.scope.materials.are, ("scope", "materials", "are")),
            materials_source=self._bands.source(
                file.scope.materials.source, ("scope", "materials", "source")
            ),
            scope=tuple(self._scope()),
            plate_temperature_degC=tuple(
                self._bands.band(band, ("plate_temperature", index), TEMPERATURES)
                for index, band in enumerate(file.plate_temperature)
            ),
            steps=self._steps(),
            soak_limit=file.soak_limit.limit,
            soak_limit_source=self._bands.source(file.soak_limit.source, ("soak_limit", "source")),
            bead_measure=file.bead_measure,
            cooling_ends_s={
                kind: self._bands.band(band, ("cooling_end", str(kind)), TIMES)
                for kind, band in file.cooling_end.items()
            },
            unequal_walls=self._unequal_walls(),
            workshop_reduction=self._workshop_reduction(),
            preparation=self._bands.preparation(file.preparation),
            heat_through_s=self._bands.band(file.heat_through, ("heat_through",), TIMES),
            tables=self._bands.printed_tables(file.table),
            notes=file.notes,
            cautions=file.cautions,
            digest=self._document.digest,
            file=self._document.file,
        )

    def _scope(self) -> Iterable[ScopeLimit]:
        for variable in _SCOPE_UNITS:
            limit: LimitTable | None = getattr(self._file.scope, variable)
            if limit is None:
                continue
            place = ("scope", str(variable))
            self._bands.check_unit(limit.unit, _SCOPE_UNITS[variable], place)
            if limit.min is not None and limit.above is not None:
                raise self._document.error((*place, "above"), "min is given too; leave one out")
            low = limit.min if limit.above is None else limit.above
            yield ScopeLimit(
                variable=variable,
                min=self._bands.formula(low, limit.unit, (*place, "min")),
                max=self._bands.formula(limit.max, limit.unit, (*place, "max")),
                is_min_excluded=limit.above is not None,
                source=self._bands.source(limit.source, (*place, "source")),
            )

    def _steps(self) -> tuple[StepRule, ...]:
        order = [step.phase for step in self._file.step]
        if sorted(order, key=PHASES.index) != order or set(order) != set(PHASES):
            raise self._document.error(
                ("step",), f"steps must be {', '.join(PHASES)} in this order; only a phase may repeat"
            )
        steps = tuple(
            StepRule(
                phase=step.phase,
                wall_above_mm=step.wall_mm.above,
                wall_up_to_mm=step.wall_mm.up_to,
                interface_pressure_MPa=self._bands.band(
                    step.interface_pressure, ("step", index, "interface_pressure"), PRESSURES
                ),
                duration_s=self._bands.band(step.duration, ("step", index, "duration"), TIMES),
                bead_mm=self._bands.band(step.bead, ("step", index, "bead"), LENGTHS),
                dwell_s=0.0 if step.dwell is None else step.dwell.up_to * TO_DOMAIN[step.dwell.unit][0],
                dwell_after_s=self._dwell_after_s(step, ("step", index, "dwell")),
            )
            for index, step in enumerate(self._file.step)
        )
        self._check_steps(steps)
        return steps

    def _dwell_after_s(self, step: StepTable, place: Place) -> float:
        """From when on the dwell holds: not where the faces have just met, so cooling has to say."""
        table = step.dwell
        if table is None:
            return 0.0
        if step.phase not in (Phase.BEAD_UP, Phase.HEAT_SOAK, Phase.COOLING):
            raise self._document.error(place, f"{step.phase} has no dwell; bead_up, heat_soak, cooling can")
        if (table.after is None) is (step.phase is Phase.COOLING):
            raise self._document.error((*place, "after"), "is given for cooling, and for nothing else")
        return (table.after or 0.0) * TO_DOMAIN[table.unit][0]

    def _check_steps(self, steps: tuple[StepRule, ...]) -> None:
        """Every wall has a step of each phase, and the first of cooling has a joining pressure."""
        for phase in PHASES:
            reached = 0.0
            for step in sorted(
                (step for step in steps if step.phase is phase), key=lambda s: s.wall_above_mm
            ):
                if step.wall_above_mm > reached:
                    break
                reached = max(reached, step.wall_up_to_mm)
            if reached < math.inf:
                raise self._document.error(("step",), f"no step of {phase} for a wall above {reached:g} mm")
        for index, step in enumerate(steps):
            if step.phase is Phase.COOLING and step.interface_pressure_MPa.target is None:
                raise self._document.error(("step", index), "cooling needs a target of its pressure")

    def _unequal_walls(self) -> UnequalWalls | None:
        table = self._file.unequal_walls
        if table is None:
            return None
        limit = self._bands.formula(table.limit, table.unit, ("unequal_walls", "limit"))
        if limit is None:
            return None
        source = self._bands.source(table.source, ("unequal_walls", "source"))
        return UnequalWalls(limit_mm=limit, plan_by=table.plan_by, source=source)

    def _workshop_reduction(self) -> WorkshopReduction | None:
        table = self._file.workshop_reduction
        if table is None:
            return None
        return WorkshopReduction(
            factor=table.factor,
            wall_from_mm=table.wall_from_mm,
            conditions=table.conditions,
            source=self._bands.source(table.source, ("workshop_reduction", "source")),
        )
