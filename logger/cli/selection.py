"""Which joints a command is about: named ones, or all that meet a filter."""

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from logger.domain.joint_query import JointOrder, JointQuery
from logger.domain.record import JointRecord
from logger.errors import InputError
from logger.store.reader import Reader
from logger.store.search import find_joints

ProjectOption = Annotated[str, typer.Option(help="Only this project.")]
OperatorOption = Annotated[str, typer.Option(help="Only this operator.")]
RigOption = Annotated[str, typer.Option(help="Only this rig.")]
PipeOption = Annotated[str, typer.Option(help="Only this material, or dn in mm, or both: 'PE100 110'.")]
ProcedureOption = Annotated[str, typer.Option(help="Only this procedure.")]
VerdictOption = Annotated[str, typer.Option(help="conforming, nonconforming, undecided or open.")]
FindingOption = Annotated[str, typer.Option(help="With this finding, or codes that begin so.")]
TextOption = Annotated[
    str, typer.Option(help="Words in number, project, operator, rig, pipe, procedure, id.")
]
OriginOption = Annotated[str, typer.Option(help="live, replay, simulated or imported_file.")]
SinceOption = Annotated[str, typer.Option(help="Opened on this day (UTC, 2031-05-04) or later.")]
UntilOption = Annotated[str, typer.Option(help="Opened before this day (UTC).")]

VERDICTS = ("conforming", "nonconforming", "undecided", "open")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(T[0-9:.]+Z?)?")


def query_of(
    *, pipe: str = "", order: JointOrder = JointOrder.OPENED, limit: int | None = None, **given: str
) -> JointQuery:
    """Check and gather the options of a command. Raises InputError naming the option."""
    if given.get("verdict", "") not in ("", *VERDICTS):
        raise InputError(
            f"no such verdict: {given['verdict']}; one of {', '.join(VERDICTS)}", key="--verdict"
        )
    for key in ("since", "until"):
        if given.get(key) and not _DAY.fullmatch(given[key]):
            raise InputError(f"not a day such as 2031-05-04: {given[key]}", key=f"--{key}")
    material, diameter_mm = _pipe_of(pipe)
    base = JointQuery(material=material, outside_diameter_mm=diameter_mm, order=order, limit=limit)
    return replace(base, **given)  # type: ignore[arg-type]  # names and types are those of the options


def selected(
    store: Path,
    joints: Sequence[str],
    query: JointQuery,
    *,
    everything: bool = False,
    attempt: int | None = None,
) -> list[JointRecord]:
    """Return the joints named, or those that meet the query, oldest first.

    Raises InputError when nothing says which: to mean all of them takes `everything`.
    """
    if joints:
        with Reader(store) as reader:
            return [reader.joint(joint, attempt=attempt) for joint in joints]
    if query == JointQuery(limit=query.limit, order=query.order) and not everything:
        raise InputError("say which joints: numbers, a filter, or --all")
    return list(reversed(find_joints(store, query)))


def _pipe_of(pipe: str) -> tuple[str, float | None]:
    material, diameter_mm = "", None
    for word in pipe.split():
        try:
            diameter_mm = float(word)
        except ValueError:
            material = word
    return material, diameter_mm
