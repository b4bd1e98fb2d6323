"""A procedure in words: scope, tables, and every value with its formula, source and mark."""

import textwrap
from collections.abc import Iterable, Iterator

from logger.domain.heat_through import HEAT_THROUGH
from logger.domain.procedure import (
    BandRule,
    CoolingEndKind,
    Formula,
    PrintedTable,
    Procedure,
    ScopeLimit,
    StepRule,
)
from logger.domain.source import Mark, Source
from logger.wording.findings import SUBJECTS
from logger.wording.notices import PREPARATION_TEXTS
from logger.wording.plan_text import COLUMNS, MARK_TEXT

_NAME = 32
_END_NAMES: dict[CoolingEndKind, str] = {
    CoolingEndKind.IN_MACHINE: "in the machine without pressure",
    CoolingEndKind.OUT_OF_CLAMPS: "before rough handling",
    CoolingEndKind.PRESSURE_TEST: "before the pressure test",
}


def procedure_list_lines(procedures: Iterable[Procedure]) -> list[str]:
    """Return one line per procedure: id, materials, weakest mark, title."""
    return [
        f"{procedure.id:<28}{', '.join(sorted(procedure.materials)):<18}"
        f"{'from memory' if _has_memory(procedure) else 'seen':<13}{procedure.title}"
        for procedure in procedures
    ]


def procedure_lines(procedure: Procedure) -> list[str]:
    """Return every value of the procedure with its formula as written, its source and its mark."""
    lines = [
        *_wrapped(f"{procedure.title}  [{procedure.id}]"),
        *_wrapped(f"{procedure.document}, {procedure.edition}; file {procedure.file}"),
        f"SHA-256 {procedure.digest}",
        "",
        "Scope",
    ]
    for name, value, source in (*_scope(procedure), *_values(procedure)):
        if name.endswith(":"):
            lines += ["", name.removesuffix(":")]
        else:
            lines += _row(name, value, source)
    for table in procedure.tables:
        lines += ["", *_table_lines(table)]
    if procedure.notes:
        lines += ["", "Notes", *(line for note in procedure.notes for line in _wrapped(note, "  - ", "    "))]
    return lines


def _scope(procedure: Procedure) -> Iterator[tuple[str, str, Source | None]]:
    yield "materials", ", ".join(sorted(procedure.materials)), procedure.materials_source
    for limit in procedure.scope:
        yield limit.variable, _scope_text(limit), limit.source


def _values(procedure: Procedure) -> Iterator[tuple[str, str, Source | None]]:
    yield "Plate surface:", "", None
    for rule in procedure.plate_temperature_degC:
        materials = f" {', '.join(sorted(rule.materials))}" if rule.materials else ""
        yield from _band(f"temperature{materials}", rule)
    if _edges(procedure.heat_through_s):
        yield from _band("heat-through", procedure.heat_through_s)
    else:
        yield "heat-through", f"at least {HEAT_THROUGH.min:g} s, the general time", HEAT_THROUGH.source
    for step in procedure.steps:
        yield f"{SUBJECTS[step.phase].capitalize()}{_walls(step)}:", "", None
        yield from _band("interface pressure", step.interface_pressure_MPa)
        yield from _band("duration", step.duration_s)
        if step.bead_mm.target is not None:
            yield from _band(f"bead {procedure.bead_measure}", step.bead_mm)
    yield "Soak limit on the gauge:", "", None
    yield "limit", _SOAK[procedure.soak_limit], procedure.soak_limit_source
    yield "After the pressure is off:", "", None
    for kind, name in _END_NAMES.items():
        yield from _band(name, procedure.cooling_ends_s.get(kind, BandRule()))
    yield "Before the plate goes in:", "", None
    for check in procedure.preparation:
        edges = _edges(check.limit_mm)
        yield (
            check.code.replace("_", " "),
            PREPARATION_TEXTS[check.code].format(limit=edges),
            check.limit_mm.source,
        )
    yield from _rules(procedure)


_SOAK = {"interface": "interface limit x A / Ac + drag", "drag or less": "drag or less"}


def _rules(procedure: Procedure) -> Iterator[tuple[str, str, Source | None]]:
    walls, workshop = procedure.unequal_walls, procedure.workshop_reduction
    if walls is not None or workshop is not None:
        yield "Rules:", "", None
    if walls is not None:
        allowed = f"differ by at most {_written(walls.limit_mm)}, planned by the {walls.plan_by}"
        yield "unequal walls", allowed, walls.source
    if workshop is not None:
        reduction = (
            f"cooling x {workshop.factor:g} from {workshop.wall_from_mm:g} mm on: {workshop.conditions}"
        )
        yield "workshop reduction", reduction, workshop.source


def _band(name: str, rule: BandRule) -> Iterator[tuple[str, str, Source | None]]:
    edges = _edges(rule)
    yield name, edges or "not given", rule.source if edges else None


def _edges(rule: BandRule) -> str:
    named = (("at least", rule.min), ("target", rule.target), ("at most", rule.max))
    return "; ".join(f"{word} {_written(formula)}" for word, formula in named if formula is not None)


def _written(formula: Formula) -> str:
    return f"{' '.join(formula.text.split())} {formula.unit}"


def _scope_text(limit: ScopeLimit) -> str:
    low = "" if limit.min is None else f"{'above' if limit.is_min_excluded else 'from'} {_written(limit.min)}"
    high = "" if limit.max is None else f"up to {_written(limit.max)}"
    return " ".join(part for part in (low, high) if part)


def _walls(step: StepRule) -> str:
    if step.wall_above_mm > 0:
        return f" (walls above {step.wall_above_mm:g} mm)"
    return f" (walls up to {step.wall_up_to_mm:g} mm)" if step.wall_up_to_mm < float("inf") else ""


def _table_lines(table: PrintedTable) -> list[str]:
    rows = [(table.over.value, *table.columns), *(tuple(map(_cell, row)) for row in table.rows)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return [
        f"Table {table.name}",
        *(
            "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
            for row in rows
        ),
        *_wrapped(f"{table.source.text} ({MARK_TEXT[table.source.mark]})", "  ", "  "),
    ]


def _cell(pair: tuple[float, float]) -> str:
    low, high = pair
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _row(name: str, value: str, source: Source | None) -> list[str]:
    lines = _wrapped(f"{name:<{_NAME}}{value}", "  ", " " * (_NAME + 2))
    if source is not None and source.mark is not Mark.NOT_GIVEN:
        lines += _wrapped(f"{source.text} ({MARK_TEXT[source.mark]})", *(2 * [" " * (_NAME + 2)]))
    return lines


def _has_memory(procedure: Procedure) -> bool:
    rules = [*procedure.plate_temperature_degC]
    for step in procedure.steps:
        rules += [step.interface_pressure_MPa, step.duration_s]
    return any(rule.source.mark is Mark.MEMORY for rule in rules)


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
