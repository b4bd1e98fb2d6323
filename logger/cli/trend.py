"""`beadwatch trend`: measures over joints with control limits, per rig or operator."""

import json as json_text
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.places import default_store
from logger.cli.selection import (
    OperatorOption,
    OriginOption,
    ProjectOption,
    RigOption,
    SinceOption,
    UntilOption,
    query_of,
)
from logger.domain.record import JointRecord
from logger.judge.control_chart import chart_of
from logger.judge.trend import Trended, value_of
from logger.store.search import find_joints
from logger.wire.judgement import judgement_from_json
from logger.wording.joint_list_text import joint_label
from logger.wording.trend_text import chart_lines, few_text


class GroupBy(StrEnum):
    RIG = "rig"
    OPERATOR = "operator"


def trend(
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    what: Annotated[list[Trended] | None, typer.Option(help="Only these measures; may be repeated.")] = None,
    by: Annotated[GroupBy, typer.Option(help="One chart for each of these.")] = GroupBy.RIG,
    project: ProjectOption = "",
    operator: OperatorOption = "",
    rig: RigOption = "",
    origin: OriginOption = "",
    since: SinceOption = "",
    until: UntilOption = "",
    json: Annotated[bool, typer.Option("--json", help="One JSON object per chart.")] = False,
) -> None:
    """Show what drifts before joints fail: a heater, a seal, a habit."""
    query = query_of(project=project, operator=operator, rig=rig, origin=origin, since=since, until=until)
    wanted = what or list(Trended)
    series: dict[tuple[str, Trended], list[tuple[str, float]]] = defaultdict(list)
    for record in reversed(find_joints(store or default_store(), query)):
        for measure, value in _values(record, wanted):
            series[_group_of(record, by), measure].append((joint_label(record), value))
    for (group, measure), points in sorted(series.items()):
        _show(f"{by} {group or '(not named)'}", measure, points, as_json=json)


def _values(record: JointRecord, wanted: Sequence[Trended]) -> Iterator[tuple[Trended, float]]:
    if record.judgement_text is None:
        return
    judgement = judgement_from_json(record.judgement_text)
    for measure in wanted:
        value = value_of(judgement, measure)
        if value is not None:
            yield measure, value


def _show(group: str, what: Trended, points: Sequence[tuple[str, float]], *, as_json: bool) -> None:
    joints = [name for name, _ in points]
    chart = chart_of([value for _, value in points])
    if as_json:
        plain = None if chart is None else asdict(chart)
        out([json_text.dumps({"group": group, "what": what, "joints": joints, "chart": plain})])
    elif chart is None:
        out([few_text(group, what, len(points))])
    else:
        out(chart_lines(group, what, joints, chart))


def _group_of(record: JointRecord, by: GroupBy) -> str:
    if by is GroupBy.OPERATOR:
        return record.header.operator
    return str(json_text.loads(record.header.rig_json).get("rig", {}).get("name", ""))
