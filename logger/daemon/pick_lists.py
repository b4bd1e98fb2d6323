"""Pick lists for the entry of a joint, and what the joint before offers."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from logger.config.dimensions import dimension_tables
from logger.config.folders import procedure_folders
from logger.config.procedures import available_procedures
from logger.domain.joint import WallRule
from logger.domain.notices import JOINT_OPTIONS
from logger.domain.procedure import MATERIALS, Procedure
from logger.domain.record import JointRecord
from logger.domain.source import Mark
from logger.wire.entry import ChoicesMessage, LastJoint, PipeEntry, ProcedureChoice, SizeChoice

_MEASURED = ("code", "out_of_round")
"""What belongs to one pipe end and is never carried over to the next joint."""
_WORST_FIRST = (Mark.MEMORY, Mark.PRACTICE, Mark.SEEN, Mark.COMPUTED, Mark.GIVEN, Mark.NOT_GIVEN)


def choices_of(recent: Sequence[JointRecord]) -> ChoicesMessage:
    """Build the lists; `recent` are the joints opened last, latest first."""
    named = [record for record in recent if record.header.joint_toml is not None]
    return ChoicesMessage(
        materials=MATERIALS,
        procedures=tuple(_procedure(found) for found in available_procedures(procedure_folders()).values()),
        sizes=tuple(_sizes()),
        wall_rules=tuple(rule for rule in WallRule),
        kinds=("pipe", "fitting"),
        options=JOINT_OPTIONS,
        operators=_each_once(record.header.operator for record in named),
        projects=_each_once(record.project for record in named),
        last=_last_of(named[0]) if named else None,
    )


def _each_once(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name))


def _procedure(procedure: Procedure) -> ProcedureChoice:
    marks = {rule.source.mark for rule in procedure.plate_temperature_degC}
    for step in procedure.steps:
        marks |= {rule.source.mark for rule in (step.interface_pressure_MPa, step.duration_s, step.bead_mm)}
    return ProcedureChoice(
        id=procedure.id,
        title=procedure.title,
        document=procedure.document,
        edition=procedure.edition,
        materials=tuple(material for material in MATERIALS if material in procedure.materials),
        marks=tuple(mark for mark in _WORST_FIRST if mark in marks and mark is not Mark.NOT_GIVEN),
    )


def _sizes() -> Iterator[SizeChoice]:
    for table in dimension_tables().values():
        if table.is_inch:
            sizes = tuple(f"{table.id.upper()} {size}" for size in table.nominal_sizes())
        else:
            sizes = tuple(f"{size:g} mm" for size in table.sizes_mm())
        yield SizeChoice(
            table=table.id,
            key="nominal_size" if table.is_inch else "outside_diameter",
            sizes=sizes,
            sdrs=table.sdrs(),
        )


def _last_of(record: JointRecord) -> LastJoint:
    """Take over what is the same from joint to joint; what was measured or read off this pipe is left out."""
    tables = tomllib.loads(record.header.joint_toml or "")
    pipe = tables.get("pipe", {})
    two = isinstance(pipe.get("a"), dict) and isinstance(pipe.get("b"), dict)
    return LastJoint(
        project=record.project,
        operator=record.header.operator,
        procedure=str(tables.get("procedure", "")),
        pipe=_pipe(pipe["a"] if two else pipe),
        pipe_b=_pipe(pipe["b"]) if two else None,
    )


def _pipe(table: Mapping[str, Any]) -> PipeEntry:
    known = {key: table[key] for key in PipeEntry.model_fields if key in table and key not in _MEASURED}
    texts = {
        key: f"{value:g}" if isinstance(value, float | int) else str(value) for key, value in known.items()
    }
    return PipeEntry(**texts)
