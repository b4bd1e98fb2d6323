"""A sealed joint as one file of its own: what a bundle carries, an office imports and a stranger verifies.

One line of canonical JSON (`beadwatch.sealed-joint/1`, specified in `configs/record-format.md`): the rows of
`JOINT_TABLES`, the canonical bytes of the blocks in base64, and the links about the joint. Every byte of the
file counts: it has exactly one form.
"""

import base64
import hashlib
import json
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Self

import apsw

from logger.domain.seal import ChainHead, Fault, Verification
from logger.errors import StoreError
from logger.store import block
from logger.store.chain import hash_of
from logger.store.evidence import JOINT_TABLES, Cell, canonical_json, rows_from
from logger.store.proof import Link, Proof

SCHEMA = "beadwatch.sealed-joint/1"
SEALED_SUFFIX = ".sealed.json"
"""How the name of such a file ends in a bundle."""
_KEYS = {"blocks", "links", "rows", "schema", "statements", "uuid"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedJoint:
    """One joint with all that is known about it. `table_rows` leaves out the statements, kept by chain."""

    uuid: str
    table_rows: dict[str, list[list[Cell]]]
    statements: dict[str, list[list[Cell]]]
    blocks: list[bytes]
    all_links: list[Link]

    @property
    def chain(self) -> str:
        """The record that the joint was made in; empty when it is not sealed."""
        return next((link.chain for link in self.all_links if json.loads(link.body)["kind"] == "open"), "")

    def last_links(self) -> list[Link]:
        """Return the last link of each chain."""
        return list({link.chain: link for link in self.all_links}.values())

    def links(self, joint_uuid: str, chain: str) -> list[Link]:
        return [link for link in self.all_links if (link.joint_uuid, link.chain) == (joint_uuid, chain)]

    def rows(self, table: str, joint_uuid: str, chain: str) -> Sequence[Sequence[Cell]]:
        del joint_uuid
        return self.statements.get(chain, []) if table == "statement" else self.table_rows[table]

    def sample_lines(self, joint_uuid: str) -> Iterator[bytes]:
        for data, row in zip(self.blocks, self.table_rows["joint_block"], strict=True):
            if hashlib.sha256(data).hexdigest() != row[5] or row[4] != block.CODEC:
                raise StoreError(f"joint {joint_uuid}: the samples of a block do not meet their hash")
            yield from block.lines(data)

    @classmethod
    def of(cls, connection: apsw.Connection, joint_uuid: str) -> Self:
        """Read a joint of a record. Raises StoreError when it is still open or not there."""
        rows = {
            table: [list(row) for row in rows_from(connection, table, joint_uuid, "")]
            for table in JOINT_TABLES
            if table != "statement"
        }
        if not rows["joint_end"]:
            what = "still open" if rows["joint"] else "not in the record"
            raise StoreError(f"joint {joint_uuid} is {what}")
        query = "SELECT {} FROM {} WHERE joint_uuid = ? ORDER BY {}"
        blocks = connection.execute(query.format("data", "joint_block", "seq"), (joint_uuid,))
        links = connection.execute(
            query.format("chain, seq, joint_uuid, body, signature", "link", "chain, seq"), (joint_uuid,)
        )
        chains = connection.execute(query.format("DISTINCT chain", "statement", "chain"), (joint_uuid,))
        return cls(
            uuid=joint_uuid,
            table_rows=rows,
            statements={
                chain: [list(row) for row in rows_from(connection, "statement", joint_uuid, chain)]
                for chain in [str(chain) for (chain,) in chains]
            },
            blocks=[block.decompress(data) for (data,) in blocks],
            all_links=[Link(*row) for row in links],
        )

    @classmethod
    def read(cls, text: str) -> Self:
        """Read what `text` gives. Raises StoreError when it is anything else, down to the byte."""
        try:
            text.encode("utf-8")
            joint = cls._of(json.loads(text))
            again = joint.text()
        except (LookupError, TypeError, ValueError, AttributeError, RecursionError) as err:
            raise StoreError(f"is no sealed joint: {err or type(err).__name__}") from err
        if again != text:
            raise StoreError("is no sealed joint in its one form: bytes were changed")
        return joint

    @classmethod
    def _of(cls, document: dict[str, Any]) -> Self:
        if document["schema"] != SCHEMA or document.keys() != _KEYS:
            raise ValueError(f"the schema is not {SCHEMA}")
        if document["rows"].keys() != JOINT_TABLES.keys() - {"statement"}:
            raise ValueError("not the tables of a joint")
        return cls(
            uuid=document["uuid"],
            table_rows={table: [list(row) for row in rows] for table, rows in document["rows"].items()},
            statements={chain: [list(row) for row in rows] for chain, rows in document["statements"].items()},
            blocks=[base64.b64decode(data, validate=True) for data in document["blocks"]],
            all_links=[
                Link(chain, seq, document["uuid"], body, bytes.fromhex(signature))
                for chain, seq, body, signature in document["links"]
            ],
        )

    def text(self) -> str:
        """Return the one line of the file with its newline."""
        return (
            canonical_json(
                {
                    "blocks": [base64.b64encode(data).decode("ascii") for data in self.blocks],
                    "links": [[k.chain, k.seq, k.body, k.signature.hex()] for k in self.all_links],
                    "rows": self.table_rows,
                    "schema": SCHEMA,
                    "statements": self.statements,
                    "uuid": self.uuid,
                }
            )
            + "\n"
        )


def verify_sealed(
    text: str, *, trusted: Collection[str] = (), heads: Collection[ChainHead] = ()
) -> Verification:
    """Verify the file of a sealed joint; whatever is wrong with it is a fault.

    `heads` have to be links of this joint, as the one printed on its report is.
    """
    found = Verification(joint_count=1)
    try:
        joint = SealedJoint.read(text)
    except StoreError as err:
        found.faults.append(Fault(code="unreadable", parameters={"reason": str(err)}))
        return found
    proof = Proof(joint, trusted, found)
    chains = Counter(link.chain for link in joint.all_links)
    for chain in chains:
        proof.check(joint.uuid, chain)
    kinds = [_kind(link) for link in joint.all_links]
    if kinds.count("open") != 1 or kinds.count("end") != 1:
        found.faults.append(Fault(code="joint.unsealed", where=joint.uuid))
    if joint.statements.keys() - chains.keys():
        found.faults.append(Fault(code="rows.unsealed", where=joint.uuid, parameters={"table": "statement"}))
    if [uuid for uuid, *_ in joint.table_rows["joint"]] != [joint.uuid]:
        found.faults.append(Fault(code="rows.missing", where=joint.uuid, parameters={"table": "joint"}))
    hash_at = {(link.chain, link.seq): hash_of(link.body) for link in joint.all_links}
    for head in heads:
        known = hash_at.get((head.chain, head.seq))
        if known != head.hash:
            code = "head.missing" if known is None else "head.differs"
            found.faults.append(Fault(code=code, where=str(head)))
    if any(len(uses) > 1 for uses in found.keys.values()):
        found.faults.append(Fault(code="key.mixed", where=joint.uuid))
    return found


def heads_in(text: str) -> set[str]:
    """Return the heads that the links of a sealed joint's file are, whether they prove anything or not."""
    try:
        return {f"{link.chain}:{link.seq}:{hash_of(link.body)}" for link in SealedJoint.read(text).all_links}
    except StoreError:
        return set()


def _kind(link: Link) -> str:
    try:
        return str(json.loads(link.body)["kind"])
    except (LookupError, TypeError, ValueError, RecursionError):
        return ""
