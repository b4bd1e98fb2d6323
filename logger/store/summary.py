"""One narrow row for each joint, kept by triggers from the evidence, so that a list need not read it all.

It is no evidence: it can be made anew from the evidence at any time, and is, by its migration.
"""
# ruff: noqa: S608 - every statement is written here

import apsw

_SELECT = """
SELECT joint.joint_id, joint.uuid, identity.number, identity.project, identity.attempt, joint.operator,
    iif(json_valid(rig_json), coalesce(json_extract(rig_json, '$.rig.name'), ''), ''),
    iif(json_valid(plan_json), json_extract(plan_json, '$.material'), NULL),
    iif(json_valid(plan_json), json_extract(plan_json, '$.outside_diameter_mm'), NULL),
    coalesce(joint.procedure, ''), opened_utc, origin, joint_end.how, verdict.verdict,
    coalesce((SELECT group_concat(code, ' ') FROM finding WHERE finding.joint_uuid = joint.uuid), '')
FROM joint JOIN identity ON identity.uuid = joint.uuid
    LEFT JOIN joint_end ON joint_end.joint_uuid = joint.uuid
    LEFT JOIN verdict ON verdict.joint_uuid = joint.uuid
"""


def _kept_after(table: str, uuid: str) -> str:
    return (
        f"CREATE TRIGGER summary_after_{table} AFTER INSERT ON {table} BEGIN "
        f"INSERT OR REPLACE INTO summary {_SELECT} WHERE joint.uuid = NEW.{uuid}; END;\n"
    )


SUMMARY = (
    """
CREATE TABLE summary (
    joint_id INTEGER PRIMARY KEY, uuid TEXT NOT NULL, number TEXT, project TEXT NOT NULL,
    attempt INTEGER NOT NULL, operator TEXT NOT NULL, rig TEXT NOT NULL, material TEXT,
    outside_diameter_mm REAL, procedure TEXT NOT NULL, opened_utc TEXT NOT NULL, origin TEXT NOT NULL,
    ended TEXT, verdict TEXT, findings TEXT NOT NULL) STRICT;
CREATE INDEX summary_of_number ON summary (number);
"""
    + f"INSERT INTO summary {_SELECT};\n"
    + _kept_after("joint", "uuid")
    + "".join(_kept_after(table, "joint_uuid") for table in ("claim", "finding", "joint_end", "verdict"))
)
"""A migration. `findings` are the codes of a joint with a space between them."""


def is_true(connection: apsw.Connection) -> bool:
    """Whether the summary says what the evidence says."""
    wrong = f"SELECT * FROM ({_SELECT}) EXCEPT SELECT * FROM summary"
    count = "SELECT (SELECT count(*) FROM summary) = (SELECT count(*) FROM joint)"
    return connection.execute(wrong).fetchone() is None and bool(connection.execute(count).get)
