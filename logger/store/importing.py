"""Taking over joints that another record sealed: rows, blocks and links as they are, with their origin."""

import json
from collections.abc import Iterable, Mapping, Sequence

import apsw

from logger.errors import StoreError
from logger.store import block
from logger.store.evidence import Cell, rows_from
from logger.store.proof import Link, parsed
from logger.store.reading import chain_of, is_joint
from logger.store.rows import attempts_of
from logger.store.sealed import SealedJoint

_RUN = "boot_id, started_mono_ms, started_utc, utc_verified, software, time_scale, clock_source"
_JOINT = (
    "uuid, number, project, attempt, previous_uuid, operator, rig_json, rig_toml, joint_toml, procedure, "
    "plan_json, origin, time_scale, opened_mono_ms, opened_utc, utc_verified, boot_id"
)
_STATEMENT = "seq, kind, author, reason, at_s, mono_ms, utc, utc_verified, body"
_OF_JOINT = {
    "claim": "number, project, attempt, previous_uuid, claimed_by, reason, mono_ms, utc, utc_verified",
    "phase": "phase, start_s, end_s, start_u_s, end_u_s, start_reason, end_reason",
    "finding": ('seq, code, severity, measured, "limit", unit, start_s, end_s, clause, standard_uncertainty'),
    "verdict": "verdict, reasons, decision_rule, judgement",
}


def import_joint(connection: apsw.Connection, joint: SealedJoint) -> int:
    """Insert what is new of a verified joint, in the caller's transaction; return how many links that is.

    Raises StoreError with the reason when the joint does not go with what is here; nothing may stay then.
    """
    _check_keys(connection, joint)
    if not is_joint(connection, joint.uuid):
        if joint.chain == chain_of(connection):
            raise StoreError(f"joint {joint.uuid} was made in this record and is gone from it")
        _check_name(connection, joint)
        _insert_joint(connection, joint)
    else:
        _check_same(connection, joint)
    new = _new_links(connection, joint)
    for chain, rows in joint.statements.items():
        since = len(rows_from(connection, "statement", joint.uuid, chain))
        for row in rows[since:]:
            _insert(connection, "statement", "chain, joint_uuid, " + _STATEMENT, (chain, joint.uuid, *row))
    for link in new:
        cells = (link.chain, link.seq, link.joint_uuid, link.body)
        connection.execute("INSERT INTO link VALUES (?, ?, ?, ?, ?)", (*cells, link.signature))
    return len(new)


def _check_keys(connection: apsw.Connection, joint: SealedJoint) -> None:
    """The joints of one record are signed by one key, or by those that followed from it."""
    named = _named(link.body for link in joint.all_links)
    for link in joint.all_links:
        body = parsed(link)
        found = connection.execute(
            "SELECT joint_uuid, body FROM link WHERE chain = ? ORDER BY seq DESC", (link.chain,)
        )
        for uuid, text in found:
            other = json.loads(str(text))
            if other["use"] == body["use"]:
                here = connection.execute(
                    "SELECT body FROM link WHERE chain = ? AND joint_uuid = ?", (link.chain, uuid)
                )
                before = named | _named(str(text) for (text,) in here)
                if _first_of(other["key"], before) != _first_of(body["key"], before):
                    raise StoreError(f"joint {joint.uuid} is signed by another key than others of its record")
                break


def _named(bodies: Iterable[str]) -> dict[str, str]:
    """By key the one that named it, as verified links say."""
    announced = [text for body in bodies for text, _ in json.loads(body).get("announced", ())]
    return {told["next"]: told["key"] for told in map(json.loads, announced)}


def _first_of(key: str, before: Mapping[str, str]) -> str:
    left = dict(before)
    while key in left:
        key = left.pop(key)
    return key


def _check_name(connection: apsw.Connection, joint: SealedJoint) -> None:
    """Number, project and attempt are free, and the attempt before is here."""
    (row,) = joint.table_rows["joint"]
    number, project, attempt, previous = row[1:5]
    for claim in joint.table_rows["claim"]:
        number, project, attempt, previous = claim[:4]
    here = {} if number is None else attempts_of(connection, str(project), str(number))
    name = f"joint {number}, attempt {attempt}, of project {project}"
    taken = here.get(int(attempt or 0))
    if taken is not None:
        raise StoreError(f"{name} is here already, as {taken}")
    if previous and not is_joint(connection, str(previous)):
        raise StoreError(f"{name} follows {previous}, which is not here yet")


def _check_same(connection: apsw.Connection, joint: SealedJoint) -> None:
    """The joint is the one that is here; a claim may have come since."""
    here = SealedJoint.of(connection, joint.uuid)
    come = here.table_rows | ({} if here.table_rows["claim"] else {"claim": joint.table_rows["claim"]})
    if come != joint.table_rows or here.chain != joint.chain:
        raise StoreError(f"joint {joint.uuid} is here already and differs")
    if here.table_rows != come:
        _insert_rows(connection, joint, "claim")


def _new_links(connection: apsw.Connection, joint: SealedJoint) -> list[Link]:
    """The links that are not here yet; of each chain one side must be the beginning of the other."""
    new = []
    for link in joint.all_links:
        found = connection.execute(
            "SELECT joint_uuid, body, signature FROM link WHERE chain = ? AND seq = ?", (link.chain, link.seq)
        ).fetchone()
        if found is None and link.chain == chain_of(connection):
            raise StoreError(f"joint {joint.uuid} holds link {link.seq} of this record, which is gone")
        if found is None:
            new.append(link)
        elif found != (link.joint_uuid, link.body, link.signature):
            raise StoreError(f"joint {joint.uuid}: another link {link.seq} of its record is here already")
    return new


def _insert_joint(connection: apsw.Connection, joint: SealedJoint) -> None:
    rows, uuid = joint.table_rows, joint.uuid
    (row,), (end,) = rows["joint"], rows["joint_end"]
    opened_in, ended_in = _run_id(connection, row[17:]), _run_id(connection, end[5:])
    _insert(connection, "joint", f"{_JOINT}, run_id", (*row[:17], opened_in))
    for event in rows["event"]:
        columns = "joint_uuid, run_id, kind, code, t_ms, mono_ms, utc, utc_verified, parameters"
        _insert(connection, "event", columns, (uuid, opened_in, *event))
    for data, cells in zip(joint.blocks, rows["joint_block"], strict=True):
        columns = "joint_uuid, seq, first_ms, last_ms, sample_count, codec, sha256, data"
        _insert(connection, "joint_block", columns, (uuid, *cells, block.compress(data)))
    for table in _OF_JOINT:
        _insert_rows(connection, joint, table)
    columns = "joint_uuid, how, reason, mono_ms, utc, utc_verified, run_id"
    _insert(connection, "joint_end", columns, (uuid, *end[:5], ended_in))


def _insert_rows(connection: apsw.Connection, joint: SealedJoint, table: str) -> None:
    for cells in joint.table_rows[table]:
        _insert(connection, table, f"joint_uuid, {_OF_JOINT[table]}", (joint.uuid, *cells))


def _run_id(connection: apsw.Connection, run: Sequence[Cell]) -> int:
    """The run of another recorder, known by all that is known of it; marked as not one of this recorder."""
    columns = _RUN.split(", ")
    met = " AND ".join(f"{column} = ?" for column in columns)
    found = connection.execute(
        f"SELECT run_id FROM recorder_run JOIN imported_run USING (run_id) WHERE {met}",  # noqa: S608
        tuple(run),
    ).fetchone()
    if found is not None:
        return int(found[0])
    _insert(connection, "recorder_run", _RUN, run)
    run_id = connection.last_insert_rowid()
    _insert(connection, "imported_run", "run_id", (run_id,))
    return run_id


def _insert(connection: apsw.Connection, table: str, columns: str, cells: Sequence[Cell | bytes]) -> None:
    places = ", ".join("?" * len(cells))
    connection.execute(f"INSERT INTO {table} ({columns}) VALUES ({places})", tuple(cells))  # noqa: S608
