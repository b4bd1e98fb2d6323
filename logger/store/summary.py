"""One narrow row for each joint, kept by triggers from the evidence, so that a list need not read it all.

It is no evidence: it can be made anew from the evidence at any time, and is, by its migration.
"""
# ruff: noqa: S608 - every statement is written here

import apsw

_TABLES = {"joint": "uuid"} | dict.fromkeys(("claim", "finding", "joint_end", "verdict"), "joint_uuid")
"""After an insert into which table the row of which joint is made anew."""
_WORDS = """lower(coalesce(identity.number, '') || ' ' || identity.project || ' ' || joint.operator || ' '
    || iif(json_valid(rig_json), coalesce(json_extract(rig_json, '$.rig.name'), ''), '') || ' '
    || coalesce(joint.procedure, '') || ' '
    || coalesce(iif(json_valid(plan_json), json_extract(plan_json, '$.material'), NULL), '') || ' '
    || joint.uuid)"""


def _select(words: str) -> str:
    return f"""
SELECT joint.joint_id, joint.uuid, identity.number, identity.project, identity.attempt, joint.operator,
    iif(json_valid(rig_json), coalesce(json_extract(rig_json, '$.rig.name'), ''), ''),
    iif(json_valid(plan_json), json_extract(plan_json, '$.material'), NULL),
    iif(json_valid(plan_json), json_extract(plan_json, '$.outside_diameter_mm'), NULL),
    coalesce(joint.procedure, ''), opened_utc, origin, joint_end.how, verdict.verdict,
    coalesce((SELECT group_concat(code, ' ') FROM finding WHERE finding.joint_uuid = joint.uuid), ''){words}
FROM joint JOIN identity ON identity.uuid = joint.uuid
    LEFT JOIN joint_end ON joint_end.joint_uuid = joint.uuid
    LEFT JOIN verdict ON verdict.joint_uuid = joint.uuid
"""


def _made(words: str, select: str, indexes: str) -> str:
    kept = (
        f"CREATE TRIGGER summary_after_{table} AFTER INSERT ON {table} BEGIN "
        f"INSERT OR REPLACE INTO summary {select} WHERE joint.uuid = NEW.{uuid}; END;\n"
        for table, uuid in _TABLES.items()
    )
    return f"""
CREATE TABLE summary (
    joint_id INTEGER PRIMARY KEY, uuid TEXT NOT NULL, number TEXT, project TEXT NOT NULL,
    attempt INTEGER NOT NULL, operator TEXT NOT NULL, rig TEXT NOT NULL, material TEXT,
    outside_diameter_mm REAL, procedure TEXT NOT NULL, opened_utc TEXT NOT NULL, origin TEXT NOT NULL,
    ended TEXT, verdict TEXT, findings TEXT NOT NULL{words}) STRICT;
{indexes}INSERT INTO summary {select};
{"".join(kept)}"""


SUMMARY = _made("", _select(""), "CREATE INDEX summary_of_number ON summary (number);\n")
"""A migration. `findings` are the codes of a joint with a space between them."""

_SELECT = _select(f", {_WORDS}")
_INDEXES = {
    "number": "number, attempt",
    "project": "project, number, attempt",
    "operator": "operator, joint_id DESC",
    "rig": "rig, joint_id DESC",
    "verdict": "verdict, joint_id DESC",
}
SUMMARY_WITH_WORDS = (
    "".join(f"DROP TRIGGER summary_after_{table};\n" for table in _TABLES)
    + "DROP TABLE summary;\n"
    + _made(
        ", words TEXT NOT NULL",
        _SELECT,
        "".join(f"CREATE INDEX summary_of_{name} ON summary ({by});\n" for name, by in _INDEXES.items()),
    )
)
"""A migration: `words` is what a text is looked for in; an index for each order."""


def is_true(connection: apsw.Connection) -> bool:
    """Whether the summary says what the evidence says."""
    wrong = f"SELECT * FROM ({_SELECT}) EXCEPT SELECT * FROM summary"
    count = "SELECT (SELECT count(*) FROM summary) = (SELECT count(*) FROM joint)"
    return connection.execute(wrong).fetchone() is None and bool(connection.execute(count).get)
