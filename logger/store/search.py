"""Finding joints in the record."""

from pathlib import Path

import apsw

from logger.domain.joint_query import JointGroup, JointOrder, JointQuery
from logger.domain.record import JointRecord
from logger.store import reading
from logger.store.connection import open_for_reading, store_errors

_CONDITIONS = {
    "project": "project = :project",
    "operator": "operator = :operator",
    "rig": "rig = :rig",
    "material": "material = :material",
    "outside_diameter_mm": "outside_diameter_mm = :outside_diameter_mm",
    "procedure": "procedure = :procedure",
    "origin": "origin = :origin",
    "verdict": "verdict = :verdict",
    "finding": "instr(' ' || findings, ' ' || :finding)",
    "since": "opened_utc >= :since",
    "until": "opened_utc < :until",
    "text": "instr(words, lower(:text))",
}
"""What each filter of a query asks of the summary; one that is empty asks nothing."""
_OPEN = "open"
_GROUPS = {
    JointGroup.PROJECT: "project",
    JointGroup.OPERATOR: "operator",
    JointGroup.RIG: "rig",
    JointGroup.PROCEDURE: "procedure",
    JointGroup.MATERIAL: "material",
    JointGroup.ORIGIN: "origin",
    JointGroup.MONTH: "substr(opened_utc, 1, 7)",
}
_ORDERS = {
    JointOrder.OPENED: "joint_id DESC",
    JointOrder.NUMBER: "number, attempt, joint_id",
    JointOrder.PROJECT: "project, number, attempt, joint_id",
    JointOrder.OPERATOR: "operator, joint_id DESC",
    JointOrder.RIG: "rig, joint_id DESC",
    JointOrder.VERDICT: "verdict, joint_id DESC",
}


def find_joints(path: Path, query: JointQuery) -> list[JointRecord]:
    """Return the joints asked for, as asked for. Raises StoreError when the record cannot be read."""
    connection = open_for_reading(path)
    try:
        with store_errors(path):
            connection.execute("BEGIN")
            return _records(connection, query)
    finally:
        connection.close()


def count_joints(path: Path, query: JointQuery, by: JointGroup) -> list[tuple[str, dict[str, int]]]:
    """Return how many joints of each verdict there are in each group, groups in order."""
    where, bindings = _conditions(query)
    clause = (
        f"SELECT coalesce({_GROUPS[by]}, ''), coalesce(verdict, '{_OPEN}'), count(*) "  # noqa: S608
        f"FROM summary {where} GROUP BY 1, 2 ORDER BY 1, 2"
    )
    connection = open_for_reading(path)
    try:
        with store_errors(path):
            counted: dict[str, dict[str, int]] = {}
            for group, verdict, count in connection.execute(clause, bindings):
                counted.setdefault(str(group), {})[str(verdict)] = int(count)
            return list(counted.items())
    finally:
        connection.close()


def _records(connection: apsw.Connection, query: JointQuery) -> list[JointRecord]:
    where, bindings = _conditions(query)
    limits = {"limit": -1 if query.limit is None else query.limit, "offset": query.offset}
    found = connection.execute(
        f"SELECT joint_id FROM summary {where} "  # noqa: S608 - every word of it is written here
        f"ORDER BY {_ORDERS[query.order]} LIMIT :limit OFFSET :offset",
        {**bindings, **limits},
    )
    records: list[JointRecord] = []
    for joint_id in [int(joint_id) for (joint_id,) in found]:
        records += reading.records_where(connection, "WHERE joint.joint_id = ?", (joint_id,))
    return records


def _conditions(query: JointQuery) -> tuple[str, dict[str, str | float]]:
    """The WHERE of a query, of the filters that were given only, so that an index can serve it."""
    given = {key: value for key in _CONDITIONS if (value := getattr(query, key)) not in ("", None)}
    asked = [_CONDITIONS[key] for key in given]
    if given.get("verdict") == _OPEN:
        del given["verdict"]
        asked[asked.index(_CONDITIONS["verdict"])] = "verdict IS NULL"
    return f"WHERE {' AND '.join(asked)}" if asked else "", given
