"""Finding joints in the record."""

from collections.abc import Mapping
from pathlib import Path

import apsw

from logger.domain.joint_query import JointGroup, JointOrder, JointQuery
from logger.domain.record import JointRecord
from logger.store import reading
from logger.store.connection import open_for_reading, store_errors

_FOUND = """
SELECT joint_id FROM summary
WHERE (:project = '' OR project = :project) AND (:operator = '' OR operator = :operator)
    AND (:verdict = '' OR coalesce(verdict, 'open') = :verdict)
    AND (:rig = '' OR rig = :rig) AND (:material = '' OR material = :material)
    AND (:diameter IS NULL OR outside_diameter_mm = :diameter)
    AND (:procedure = '' OR procedure = :procedure) AND (:origin = '' OR origin = :origin)
    AND (:finding = '' OR instr(' ' || findings, ' ' || :finding))
    AND (:since = '' OR opened_utc >= :since) AND (:until = '' OR opened_utc < :until)
    AND (:text = '' OR instr(lower(coalesce(number, '') || ' ' || project || ' ' || operator || ' ' || rig
        || ' ' || procedure || ' ' || coalesce(material, '') || ' ' || uuid), lower(:text)))
"""
_GROUPS = {
    JointGroup.PROJECT: "project",
    JointGroup.OPERATOR: "operator",
    JointGroup.RIG: "rig",
    JointGroup.PROCEDURE: "procedure",
    JointGroup.MATERIAL: "material",
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
    clause = f"""
        SELECT coalesce({_GROUPS[by]}, ''), coalesce(verdict, 'open'), count(*) FROM summary
        WHERE joint_id IN ({_FOUND}) GROUP BY 1, 2 ORDER BY 1, 2
    """  # noqa: S608 - every word of it is written here
    bindings = {key: value for key, value in _bindings(query).items() if key not in ("limit", "offset")}
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
    clause = f"{_FOUND} ORDER BY {_ORDERS[query.order]} LIMIT :limit OFFSET :offset"
    found = [int(joint_id) for (joint_id,) in connection.execute(clause, _bindings(query))]
    records: list[JointRecord] = []
    for joint_id in found:
        records += reading.records_where(connection, "WHERE joint.joint_id = ?", (joint_id,))
    return records


def _bindings(query: JointQuery) -> Mapping[str, str | float | None]:
    return {
        "project": query.project,
        "operator": query.operator,
        "verdict": query.verdict,
        "rig": query.rig,
        "material": query.material,
        "diameter": query.outside_diameter_mm,
        "procedure": query.procedure,
        "origin": query.origin,
        "finding": query.finding,
        "since": query.since,
        "until": query.until,
        "text": query.text,
        "limit": -1 if query.limit is None else query.limit,
        "offset": query.offset,
    }
