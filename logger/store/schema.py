"""The tables and the numbered migrations that make them.

A migration that was released is never edited: a change is a new one at the end of `MIGRATIONS`.
Evidence is append-only; `journal` (samples on their way into a block) and `alive` are not evidence.
"""

from typing import Any

import apsw

from logger.errors import StoreError
from logger.store.summary import SUMMARY, SUMMARY_WITH_WORDS
from logger.store.transaction import transaction

APPLICATION_ID = 0x42575243
"""Marks the file as a Beadwatch record."""


def append_only(table: str, *keys: str) -> str:
    """Return the triggers that refuse UPDATE, DELETE and REPLACE on `table`.

    `keys` are its unique keys, each as comma-separated columns: a REPLACE deletes the old row without
    firing a delete trigger, so an insert that meets an old row by any of them is refused beforehand.
    """
    refuse = f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END;\n"
    triggers = [
        f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} {refuse}"
        for verb in ("UPDATE", "DELETE")
    ]
    for number, key in enumerate(keys, 1):
        met = " AND ".join(f"old.{column} = NEW.{column}" for column in key.split(", "))
        exists = f"EXISTS (SELECT 1 FROM {table} old WHERE {met})"  # noqa: S608 - names written below
        triggers.append(
            f"CREATE TRIGGER {table}_no_replace_{number} BEFORE INSERT ON {table} WHEN {exists} {refuse}"
        )
    return "".join(triggers)


_RECORDER = """
CREATE TABLE migration (number INTEGER PRIMARY KEY, utc TEXT NOT NULL) STRICT;
CREATE TABLE recorder_run (
    run_id INTEGER PRIMARY KEY, boot_id TEXT NOT NULL, started_mono_ms INTEGER NOT NULL,
    started_utc TEXT NOT NULL, utc_verified INTEGER NOT NULL, software TEXT NOT NULL,
    time_scale REAL NOT NULL, clock_source TEXT NOT NULL) STRICT;
CREATE TABLE recorder_run_end (
    run_id INTEGER PRIMARY KEY REFERENCES recorder_run, mono_ms INTEGER NOT NULL, utc TEXT NOT NULL,
    utc_verified INTEGER NOT NULL, reason TEXT NOT NULL) STRICT;
CREATE TABLE recorder_off (
    off_id INTEGER PRIMARY KEY, from_utc TEXT NOT NULL, to_utc TEXT NOT NULL, reason TEXT NOT NULL) STRICT;
CREATE TABLE alive (
    run_id INTEGER PRIMARY KEY REFERENCES recorder_run, mono_ms INTEGER NOT NULL, utc TEXT NOT NULL,
    utc_verified INTEGER NOT NULL) STRICT;
"""

_JOINT = """
CREATE TABLE joint (
    joint_id INTEGER PRIMARY KEY, uuid TEXT NOT NULL UNIQUE,
    run_id INTEGER NOT NULL REFERENCES recorder_run, number TEXT, project TEXT NOT NULL,
    attempt INTEGER NOT NULL CHECK (attempt >= 1),
    previous_uuid TEXT REFERENCES joint (uuid), operator TEXT NOT NULL,
    rig_json TEXT NOT NULL, rig_toml TEXT NOT NULL, joint_toml TEXT, procedure TEXT, plan_json TEXT,
    origin TEXT NOT NULL, time_scale REAL NOT NULL, opened_mono_ms INTEGER NOT NULL,
    opened_utc TEXT NOT NULL, utc_verified INTEGER NOT NULL, boot_id TEXT NOT NULL,
    UNIQUE (project, number, attempt)) STRICT;
CREATE TABLE claim (
    joint_uuid TEXT PRIMARY KEY REFERENCES joint (uuid), number TEXT NOT NULL, project TEXT NOT NULL,
    attempt INTEGER NOT NULL CHECK (attempt >= 1), previous_uuid TEXT REFERENCES joint (uuid),
    claimed_by TEXT NOT NULL, reason TEXT NOT NULL, mono_ms INTEGER NOT NULL, utc TEXT NOT NULL,
    utc_verified INTEGER NOT NULL, UNIQUE (project, number, attempt)) STRICT;
CREATE VIEW identity AS
    SELECT joint.uuid AS uuid, coalesce(claim.number, joint.number) AS number,
        coalesce(claim.project, joint.project) AS project, coalesce(claim.attempt, joint.attempt) AS attempt,
        coalesce(claim.previous_uuid, joint.previous_uuid) AS previous_uuid
    FROM joint LEFT JOIN claim ON claim.joint_uuid = joint.uuid;
CREATE TABLE joint_block (
    joint_uuid TEXT NOT NULL REFERENCES joint (uuid), seq INTEGER NOT NULL, first_ms INTEGER NOT NULL,
    last_ms INTEGER NOT NULL, sample_count INTEGER NOT NULL, codec INTEGER NOT NULL, sha256 TEXT NOT NULL,
    data BLOB NOT NULL, PRIMARY KEY (joint_uuid, seq)) STRICT;
CREATE TABLE joint_end (
    joint_uuid TEXT PRIMARY KEY REFERENCES joint (uuid), run_id INTEGER NOT NULL REFERENCES recorder_run,
    how TEXT NOT NULL CHECK (how IN ('finished', 'aborted', 'interrupted')), reason TEXT NOT NULL,
    mono_ms INTEGER NOT NULL, utc TEXT NOT NULL, utc_verified INTEGER NOT NULL) STRICT;
CREATE TABLE journal (
    joint_uuid TEXT NOT NULL REFERENCES joint (uuid), seq INTEGER NOT NULL, last_ms INTEGER NOT NULL,
    sample_count INTEGER NOT NULL, codec INTEGER NOT NULL, data BLOB NOT NULL,
    PRIMARY KEY (joint_uuid, seq)) STRICT;
"""

_JUDGEMENT = """
CREATE TABLE phase (
    joint_uuid TEXT NOT NULL REFERENCES joint (uuid), phase TEXT NOT NULL, start_s REAL, end_s REAL,
    start_u_s REAL, end_u_s REAL, start_reason TEXT NOT NULL, end_reason TEXT NOT NULL,
    PRIMARY KEY (joint_uuid, phase)) STRICT;
CREATE TABLE finding (
    joint_uuid TEXT NOT NULL REFERENCES joint (uuid), seq INTEGER NOT NULL, code TEXT NOT NULL,
    severity TEXT NOT NULL, measured REAL, "limit" REAL, unit TEXT NOT NULL, start_s REAL, end_s REAL,
    clause TEXT NOT NULL, standard_uncertainty REAL, PRIMARY KEY (joint_uuid, seq)) STRICT;
CREATE TABLE verdict (
    joint_uuid TEXT PRIMARY KEY REFERENCES joint (uuid), verdict TEXT NOT NULL, reasons TEXT NOT NULL,
    decision_rule TEXT NOT NULL, judgement TEXT NOT NULL) STRICT;
CREATE TABLE event (
    event_id INTEGER PRIMARY KEY, run_id INTEGER NOT NULL REFERENCES recorder_run,
    joint_uuid TEXT REFERENCES joint (uuid), kind TEXT NOT NULL, code TEXT NOT NULL, t_ms INTEGER,
    mono_ms INTEGER, utc TEXT, utc_verified INTEGER, parameters TEXT NOT NULL) STRICT;
CREATE INDEX event_of_joint ON event (joint_uuid);
"""

_STATEMENT = """
CREATE TABLE chain (chain TEXT PRIMARY KEY) STRICT;
INSERT INTO chain (chain) VALUES (lower(hex(randomblob(16))));
CREATE TABLE statement (
    chain TEXT NOT NULL, joint_uuid TEXT NOT NULL, seq INTEGER NOT NULL CHECK (seq >= 1),
    kind TEXT NOT NULL CHECK (kind <> ''), author TEXT NOT NULL, reason TEXT NOT NULL, at_s REAL,
    mono_ms INTEGER NOT NULL, utc TEXT NOT NULL, utc_verified INTEGER NOT NULL, body TEXT NOT NULL,
    PRIMARY KEY (joint_uuid, chain, seq)) STRICT;
"""
"""`chain` names this record for good; a statement about no joint has the empty text for its joint."""

_LINK = """
CREATE TABLE link (
    chain TEXT NOT NULL, seq INTEGER NOT NULL CHECK (seq >= 1), joint_uuid TEXT NOT NULL,
    body TEXT NOT NULL, signature BLOB NOT NULL, PRIMARY KEY (chain, seq)) STRICT;
CREATE INDEX link_of_joint ON link (joint_uuid, chain, seq);
"""

MIGRATIONS: tuple[str, ...] = (
    f"PRAGMA application_id = {APPLICATION_ID};"
    + _RECORDER
    + _JOINT
    + _JUDGEMENT
    + append_only("migration", "number")
    + append_only("recorder_run", "run_id")
    + append_only("recorder_run_end", "run_id")
    + append_only("recorder_off", "off_id")
    + append_only("joint", "joint_id", "uuid", "project, number, attempt")
    + append_only("claim", "joint_uuid", "project, number, attempt")
    + append_only("joint_block", "joint_uuid, seq")
    + append_only("joint_end", "joint_uuid")
    + append_only("phase", "joint_uuid, phase")
    + append_only("finding", "joint_uuid, seq")
    + append_only("verdict", "joint_uuid")
    + append_only("event", "event_id"),
    _STATEMENT + append_only("chain", "chain") + append_only("statement", "joint_uuid, chain, seq"),
    _LINK + append_only("link", "chain, seq"),
    SUMMARY,
    "CREATE TABLE imported_run (run_id INTEGER PRIMARY KEY REFERENCES recorder_run) STRICT;\n",
    SUMMARY_WITH_WORDS,
)
"""Migration n is `MIGRATIONS[n - 1]`."""


def check_version(connection: apsw.Connection, migrations: tuple[str, ...] = MIGRATIONS) -> int:
    """Return the version of the file, 0 when it is new. Raises StoreError when it is not ours or newer."""
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").get
    if tables and connection.pragma("application_id") != APPLICATION_ID:
        raise StoreError(f"{connection.filename}: not a Beadwatch record")
    version = int(connection.pragma("user_version"))
    if version > len(migrations):
        raise StoreError(
            f"{connection.filename}: written by a newer Beadwatch "
            f"(schema {version}, this one knows up to {len(migrations)})"
        )
    return version


def migrate(connection: apsw.Connection, utc: str, migrations: tuple[str, ...] = MIGRATIONS) -> None:
    """Bring the file to the latest version, each step in one transaction with the record that it ran."""
    for number in range(check_version(connection, migrations) + 1, len(migrations) + 1):
        with transaction(connection):
            connection.execute(migrations[number - 1])
            connection.execute("INSERT INTO migration (number, utc) VALUES (?, ?)", (number, utc))
            connection.pragma("user_version", number)


def schema_of(connection: apsw.Connection) -> list[tuple[Any, ...]]:
    """Return type, name and text of every table, index, view and trigger, by name."""
    return list(connection.execute("SELECT type, name, sql FROM sqlite_schema ORDER BY name"))


def expected_schema() -> list[tuple[Any, ...]]:
    """Return `schema_of` a record as the migrations make it."""
    connection = apsw.Connection(":memory:")
    for migration in MIGRATIONS:
        connection.execute(migration)
    return schema_of(connection)
