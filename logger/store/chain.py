"""The chain of signed links: each covers new evidence and names the link before it by hash.

A link is one line of canonical JSON and its Ed25519 signature. Its `rows` say which further rows of a table
about its joint it covers, by digest; its `samples` how many samples of the joint there are so far and their
running hash. So nothing that a link covers can be changed, left out, repeated or moved, and no link taken out
from between others.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

import apsw

from logger.domain.rig import Origin
from logger.domain.sample import RawSample
from logger.store import reading
from logger.store.evidence import canonical_json, digest_of, lines_of, rows_from, tables_of
from logger.store.keys import KeyUse, use_for

VERSION = 1
SEAL_EVERY_MS = 60_000
"""On the joint's own clock, and for events about no joint on the recorder's."""
RECORDER = ""
"""The scope of evidence about no joint."""
KEY_LINK = "key"
"""Kind of the link by which a key names the next one."""


class Signer(Protocol):
    """See `Keys`."""

    def public(self, use: KeyUse) -> bytes: ...

    def sign(self, use: KeyUse, message: bytes) -> bytes: ...

    def prepare(self, use: KeyUse, message: bytes) -> tuple[bytes, bytes]: ...

    def adopt(self, use: KeyUse, public: bytes) -> None: ...


class Running(Protocol):
    """A hash that can be read while it goes on."""

    def update(self, data: bytes, /) -> None: ...

    def hexdigest(self) -> str: ...


@dataclass
class _Scope:
    """What the links about one joint, or about none, have covered so far."""

    use: KeyUse
    is_sealed: bool
    """False for a joint from before sealing or of another record: its own rows are never signed here."""
    last_hash: str = ""
    key: str = ""
    """Of the last link."""
    covered: dict[str, int] = field(default_factory=dict)
    minute: int = 0
    sample_count: int = 0
    running: Running = field(default_factory=hashlib.sha256)


class Chain:
    """Appends links inside the caller's transaction; `forget` when that transaction did not commit."""

    def __init__(self, signer: Signer, utc: str) -> None:
        self._signer = signer
        self._scopes: dict[str, _Scope] = {}
        self._head: tuple[str, int, str] | None = None
        self._announced: dict[KeyUse, list[list[str]]] | None = None
        self.recorder_use = KeyUse.LIVE
        self.utc = utc
        """The latest label of UTC that came along; links carry it."""

    def forget(self) -> None:
        """Read everything again before the next link."""
        self._head = None
        self._announced = None
        self._scopes.clear()

    def begin(self, connection: apsw.Connection) -> None:
        """Make the first link of a new chain; evidence from before it is listed there and never signed.

        Raises StoreError when the chain names a key that is not here.
        """
        self.announced(connection)
        if connection.execute("SELECT 1 FROM link WHERE chain = ?", (reading.chain_of(connection),)).get:
            return
        counts = {
            table: len(rows_from(connection, table, RECORDER, ""))
            for table in tables_of(RECORDER)
            if table != "migration"
        }
        covered = {table: count for table, count in counts.items() if count}
        uuids = [uuid for (uuid,) in connection.execute("SELECT uuid FROM joint ORDER BY joint_id")]
        self._scope(connection, RECORDER).covered = dict(covered)
        self.append(connection, RECORDER, "genesis", {"unsealed": uuids, "before": covered})

    def append(
        self, connection: apsw.Connection, joint_uuid: str, kind: str, more: Mapping[str, Any] | None = None
    ) -> None:
        """Append the link that covers all evidence of its scope which is not covered yet.

        About a joint whose own rows are not signed here only the rows of the table named `kind` are covered;
        where there is no such table there is no link.
        """
        scope = self._scope(connection, joint_uuid)
        scope.is_sealed |= kind == "open"
        if not scope.is_sealed and kind not in ("claim", "statement"):
            return
        announced = self.announced(connection)[scope.use]
        key = self._signer.public(scope.use).hex()
        if announced and scope.key != key:
            more = {**(more or {}), "announced": announced}
        chain, seq, previous = self._head or self._read_head(connection)
        covered: dict[str, list[int | str]] = {}
        for table in tables_of(joint_uuid) if scope.is_sealed else (kind,):
            since = scope.covered.get(table, 0)
            new = rows_from(connection, table, joint_uuid, chain, since)
            if new:
                scope.covered[table] = since + len(new)
                covered[table] = [since, since + len(new), digest_of(new)]
        body = canonical_json(
            {
                "at": self.utc,
                "chain": chain,
                "joint": joint_uuid,
                "joint_previous": scope.last_hash,
                "key": key,
                "kind": kind,
                "previous": previous,
                "rows": covered,
                "seq": seq + 1,
                "use": scope.use,
                "v": VERSION,
                **(more or {}),
            }
        )
        connection.execute(
            "INSERT INTO link (chain, seq, joint_uuid, body, signature) VALUES (?, ?, ?, ?, ?)",
            (chain, seq + 1, joint_uuid, body, self._signer.sign(scope.use, body.encode("utf-8"))),
        )
        scope.last_hash, scope.key = hash_of(body), key
        self._head = chain, seq + 1, scope.last_hash
        if kind == "end":
            del self._scopes[joint_uuid]

    def renew_key(self, connection: apsw.Connection, use: KeyUse) -> bytes:
        """Append the link by which the key of a use names the next one, which signs with it; return that one.

        Once it is committed the new key signs and the old one is gone.
        """
        _, _, previous = self._head or self._read_head(connection)
        public, signature = self._signer.prepare(use, previous.encode("ascii"))
        recorder_use, self.recorder_use = self.recorder_use, use
        try:
            more = {"next": public.hex(), "next_signature": signature.hex()}
            self.append(connection, RECORDER, KEY_LINK, more)
        finally:
            self.recorder_use = recorder_use
        self._announced = None
        return public

    def announced(self, connection: apsw.Connection) -> dict[KeyUse, list[list[str]]]:
        """Return body and signature of the links that named a next key; the latest one named signs now.

        Raises StoreError when it is not here.
        """
        if self._announced is None:
            found: dict[KeyUse, list[list[str]]] = {use: [] for use in KeyUse}
            links = connection.execute(
                "SELECT body, signature FROM link WHERE chain = ? AND joint_uuid = ? AND instr(body, ?) "
                "ORDER BY seq",
                (reading.chain_of(connection), RECORDER, f'"kind":"{KEY_LINK}"'),
            )
            for body, signature in links:
                found[KeyUse(json.loads(body)["use"])].append([body, signature.hex()])
            for use, known in found.items():
                if known:
                    self._signer.adopt(use, bytes.fromhex(json.loads(known[-1][0])["next"]))
            self._announced = found
        return self._announced

    def add_samples(self, connection: apsw.Connection, joint_uuid: str, samples: list[RawSample]) -> bool:
        """Take samples that are about to be stored; return whether a minute of the joint is over."""
        scope = self._scope(connection, joint_uuid)
        for line in lines_of(samples):
            scope.running.update(line)
        scope.sample_count += len(samples)
        return self._is_minute_over(scope, samples[-1].t_ms)

    def seal_minute(self, connection: apsw.Connection, joint_uuid: str, kind: str = "minute") -> None:
        """Sign the running hash of a joint; with kind "end" for the last time."""
        scope = self._scope(connection, joint_uuid)
        more = {"samples": [scope.sample_count, scope.running.hexdigest()], "minute": scope.minute}
        self.append(connection, joint_uuid, kind, more)

    def note_events(self, connection: apsw.Connection, mono_ms: int) -> None:
        """Cover events about no joint, at most once a minute; the recorder's next link covers the rest."""
        scope = self._scope(connection, RECORDER)
        if self._is_minute_over(scope, mono_ms):
            self.append(connection, RECORDER, "minute", {"minute": scope.minute})

    def _is_minute_over(self, scope: _Scope, t_ms: int) -> bool:
        minute = t_ms // SEAL_EVERY_MS
        # Not "later than": the recorder's clock begins again with every start of the machine.
        is_over, scope.minute = minute != scope.minute, minute
        return is_over

    def _read_head(self, connection: apsw.Connection) -> tuple[str, int, str]:
        chain = reading.chain_of(connection)
        row = connection.execute(
            "SELECT seq, body FROM link WHERE chain = ? ORDER BY seq DESC LIMIT 1", (chain,)
        ).fetchone()
        return (chain, 0, "") if row is None else (chain, row[0], hash_of(row[1]))

    def _scope(self, connection: apsw.Connection, joint_uuid: str) -> _Scope:
        if joint_uuid not in self._scopes:
            self._scopes[joint_uuid] = self._read_scope(connection, joint_uuid)
        scope = self._scopes[joint_uuid]
        if joint_uuid == RECORDER:
            scope.use = self.recorder_use
        return scope

    def _read_scope(self, connection: apsw.Connection, joint_uuid: str) -> _Scope:
        chain = reading.chain_of(connection)
        scope = _Scope(use=self.recorder_use, is_sealed=joint_uuid == RECORDER)
        if joint_uuid:
            found = connection.execute("SELECT origin, time_scale FROM joint WHERE uuid = ?", (joint_uuid,))
            for origin, time_scale in found:
                scope.use = use_for(Origin(origin), time_scale)
        links = connection.execute(
            "SELECT body FROM link WHERE chain = ? AND joint_uuid = ? ORDER BY seq", (chain, joint_uuid)
        )
        for (body,) in links:
            link = json.loads(body)
            scope.is_sealed |= link["kind"] == "open"
            scope.last_hash, scope.key = hash_of(body), link["key"]
            scope.minute = link.get("minute", scope.minute)
            scope.covered |= link.get("before", {})
            scope.covered |= {table: to for table, (_, to, _) in link["rows"].items()}
        if scope.is_sealed:
            for sample in reading.journal_samples(connection, joint_uuid):
                scope.sample_count += 1
                scope.running.update(b"".join(lines_of([sample])))
        return scope


def hash_of(body: str) -> str:
    """Return the hash by which the next link names this one, in hexadecimal."""
    return hashlib.sha256(body.encode("utf-8")).hexdigest()
