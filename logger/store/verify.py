"""Verifying a record: each joint against its links, and the chain as a whole. Opens the file read-only.

The second verifier, `configs/verifier/verify_record.py`, shares no code with this one.
"""

import json
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

import apsw

from logger.domain.seal import ChainHead, Fault, Verification
from logger.errors import StoreError
from logger.store import block, reading
from logger.store.chain import KEY_LINK, RECORDER, hash_of
from logger.store.connection import check_integrity, open_for_reading
from logger.store.evidence import JOINT_TABLES, Cell, lines_of, rows_from
from logger.store.keys import fingerprint_of
from logger.store.proof import Link, Proof
from logger.store.schema import expected_schema, schema_of
from logger.store.summary import is_true


class RecordEvidence:
    """Links and evidence of a record file."""

    def __init__(self, connection: apsw.Connection) -> None:
        self._connection = connection

    def links(self, joint_uuid: str, chain: str) -> list[Link]:
        found = self._connection.execute(
            "SELECT chain, seq, joint_uuid, body, signature FROM link WHERE joint_uuid = ? AND chain = ? "
            "ORDER BY seq",
            (joint_uuid, chain),
        )
        return [Link(*row) for row in found]

    def rows(self, table: str, joint_uuid: str, chain: str) -> Sequence[Sequence[Cell]]:
        return rows_from(self._connection, table, joint_uuid, chain)

    def sample_lines(self, joint_uuid: str) -> Iterator[bytes]:
        if reading.end_of(self._connection, joint_uuid) is None:
            yield from lines_of(reading.journal_samples(self._connection, joint_uuid))
        else:
            for canonical in reading.blocks_of(self._connection, joint_uuid):
                yield from block.lines(canonical)


def verify_record(
    path: Path,
    *,
    joints: Collection[str] | None = None,
    trusted: Collection[str] = (),
    heads: Collection[ChainHead] = (),
) -> Verification:
    """Verify the joints of these uuids, or with None every joint, the recorder's own evidence and the chain.

    `trusted` are the fingerprints of the keys that may have signed, `heads` published heads that the chain
    has to contain. Raises StoreError only when the file cannot be opened as a record at all.
    """
    connection = open_for_reading(path)
    found = Verification()
    try:
        connection.execute("BEGIN")
        _Record(connection, found, trusted).check(joints, heads)
    except (apsw.Error, StoreError, TypeError, ValueError, LookupError, RecursionError) as err:
        found.faults.append(Fault(code="unreadable", where=str(path), parameters={"reason": str(err)}))
    finally:
        connection.close()
    return found


class _Record:
    def __init__(self, connection: apsw.Connection, found: Verification, trusted: Collection[str]) -> None:
        self._connection = connection
        self._found = found
        self._trusted = trusted
        self._proof = Proof(RecordEvidence(connection), trusted, found)
        self._chain = reading.chain_of(connection)

    def check(self, joints: Collection[str] | None, heads: Collection[ChainHead]) -> None:
        if joints is None:
            self._check_file()
            self._check_chain()
            self._proof.check(RECORDER, self._chain)
            self._check_imports()
        for uuid in self._uuids() if joints is None else joints:
            self._check_joint(uuid)
        self._check_heads(heads)
        mixed = [key for key, uses in self._found.keys.items() if len(uses) > 1]
        for key in mixed:
            self._fault("key.mixed", key=key)

    def _check_file(self) -> None:
        """The tables as they were made, indexes true to them, nothing about joints that are not there."""
        check_integrity(self._connection)
        if schema_of(self._connection) != expected_schema():
            self._fault("schema.changed")
        if not is_true(self._connection):
            self._fault("summary.changed")
        for table in (*JOINT_TABLES, "link", "journal"):
            column = "uuid" if table == "joint" else "joint_uuid"
            query = (
                f"SELECT DISTINCT {column} FROM {table} "  # noqa: S608 - names written in this package
                f"WHERE {column} <> '' AND {column} NOT IN (SELECT uuid FROM joint)"
            )
            for (uuid,) in self._connection.execute(query):
                self._fault("joint.missing", str(uuid), table=table)

    def _check_chain(self) -> None:
        """One link after the other from the first, none missing, all of one use by one key unless told."""
        before, count = "", 0
        key_of_use: dict[str, str] = {}
        next_of: dict[str, str] = {}
        """By key that named another one."""
        for seq, body in self._links():
            count += 1
            link = json.loads(body)
            if seq != count:
                self._fault("link.missing", link=count)
                count = seq
            if link["previous"] != before:
                self._fault("link.order", link=seq)
            before = hash_of(body)
            use, key = link["use"], fingerprint_of(bytes.fromhex(link["key"]))
            known = key_of_use.setdefault(use, key)
            if key != known:
                is_told = next_of.get(known) == key
                add = self._note if is_told or self._trusted else self._fault
                add("key.renewed" if is_told else "key.changed", link=seq, key=key)
                key_of_use[use] = key
            if key in next_of:
                self._fault("key.retired", link=seq, key=key)
            if link["kind"] == KEY_LINK:
                next_of[key] = fingerprint_of(bytes.fromhex(link["next"]))
        if not count:
            self._fault("record.unsealed")

    def _check_joint(self, uuid: str) -> None:
        self._found.joint_count += 1
        firsts = self._connection.execute(
            "SELECT chain, body FROM link WHERE joint_uuid = ? GROUP BY chain HAVING seq = min(seq)", (uuid,)
        )
        kind_of = {str(chain): json.loads(str(body))["kind"] for chain, body in firsts.fetchall()}
        for chain in kind_of:
            self._proof.check(uuid, chain)
        stated = self._connection.execute(
            "SELECT DISTINCT chain FROM statement WHERE joint_uuid = ?", (uuid,)
        )
        for name in {str(name) for (name,) in stated} - kind_of.keys():
            self._fault("rows.unsealed", uuid, table="statement", chain=name)
        if "open" not in kind_of.values():
            self._fault("joint.unsealed", uuid)

    def _check_imports(self) -> None:
        """What was imported is still there, up to the links it came with; what is foreign was imported."""
        known = {self._chain}
        for _, body in self._links(RECORDER):
            for uuid, heads in json.loads(body).get("imported", {}).items():
                for text in heads:
                    head = ChainHead.read(text)
                    known.add(f"{head.chain} {uuid}")
                    if self._hash_at(head) != head.hash:
                        self._fault("import.missing", uuid, link=head.seq)
        foreign = self._connection.execute(
            "SELECT DISTINCT chain, joint_uuid FROM link WHERE chain <> ?", (self._chain,)
        )
        for chain, uuid in foreign:
            if f"{chain} {uuid}" not in known:
                self._fault("import.unknown", str(uuid))

    def _check_heads(self, heads: Collection[ChainHead]) -> None:
        for head in heads:
            found = self._hash_at(head)
            if found != head.hash:
                self._fault("head.missing" if found is None else "head.differs", str(head))

    def _hash_at(self, head: ChainHead) -> str | None:
        row = self._connection.execute(
            "SELECT body FROM link WHERE chain = ? AND seq = ?", (head.chain, head.seq)
        ).fetchone()
        return None if row is None else hash_of(row[0])

    def _links(self, joint_uuid: str | None = None) -> Iterator[tuple[int, str]]:
        yield from self._connection.execute(
            "SELECT seq, body FROM link WHERE chain = ?1 AND (?2 IS NULL OR joint_uuid = ?2) ORDER BY seq",
            (self._chain, joint_uuid),
        )

    def _uuids(self) -> list[str]:
        """Every joint that is there, or that a link or the list of the first link says was there."""
        found = {str(uuid) for (uuid,) in self._connection.execute("SELECT uuid FROM joint")}
        for _, body in self._links(RECORDER):
            found.update(json.loads(body).get("unsealed", ()))
            break
        return sorted(found)

    def _fault(self, code: str, where: str = "", **parameters: str | int) -> None:
        self._found.faults.append(Fault(code=code, where=where, parameters=parameters))

    def _note(self, code: str, where: str = "", **parameters: str | int) -> None:
        self._found.notes.append(Fault(code=code, where=where, parameters=parameters))
