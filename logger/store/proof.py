"""Holding links against the evidence they cover; the same for a record and for a sealed joint's own file."""

import hashlib
import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Protocol

from logger.domain.rig import Origin
from logger.domain.seal import Fault, Verification
from logger.errors import StoreError
from logger.store.chain import KEY_LINK, RECORDER, VERSION, hash_of
from logger.store.evidence import Cell, digest_of, tables_of
from logger.store.keys import fingerprint_of, is_signed, use_for


@dataclass(frozen=True, slots=True)
class Link:
    """One link as stored: the columns beside its body only repeat what is in it."""

    chain: str
    seq: int
    joint_uuid: str
    body: str
    signature: bytes


def parsed(link: Link) -> dict[str, Any]:
    """Return the body of a link that was verified."""
    body: dict[str, Any] = json.loads(link.body)
    return body


class Evidence(Protocol):
    """Where links and evidence are read from."""

    def links(self, joint_uuid: str, chain: str) -> list[Link]: ...

    def rows(self, table: str, joint_uuid: str, chain: str) -> Sequence[Sequence[Cell]]: ...

    def sample_lines(self, joint_uuid: str) -> Iterator[bytes]:
        """Yield the line of each sample; raises StoreError when a block does not meet its hash."""
        ...


class Proof:
    """Checks the links about one joint, or about none, in one chain, and adds to a `Verification`."""

    def __init__(self, evidence: Evidence, trusted: Collection[str], found: Verification) -> None:
        self._evidence = evidence
        self._trusted = set(trusted)
        self._found = found

    def check(self, joint_uuid: str, chain: str) -> None:
        """Raise nothing: whatever is wrong with what is read is a fault."""
        where = joint_uuid or "recorder"
        try:
            links = [self._link(link, where) for link in self._evidence.links(joint_uuid, chain)]
            if links and None not in links:
                self._check([link for link in links if link], joint_uuid, chain)
        except (StoreError, LookupError, TypeError, ValueError, AttributeError, RecursionError) as err:
            self._fault("unreadable", where, reason=str(err) or type(err).__name__)

    def _link(self, link: Link, where: str) -> dict[str, Any] | None:
        """Return the body of a link that is signed by a key that may sign it, else None with a fault."""
        try:
            body = json.loads(link.body)
            key = bytes.fromhex(body["key"])
            named = (body["chain"], body["seq"], body["joint"], body["v"])
        except (LookupError, TypeError, ValueError, AttributeError, RecursionError):
            self._fault("link.text", where, link=link.seq)
            return None
        if not is_signed(key, link.signature, link.body.encode("utf-8")):
            self._fault("link.signature", where, link=link.seq)
            return None
        if named != (link.chain, link.seq, link.joint_uuid, VERSION):
            self._fault("link.place", where, link=link.seq)
            return None
        if not self._follow(link, body["use"], body.get("announced", ())):
            self._fault("link.announced", where, link=link.seq)
            return None
        fingerprint = fingerprint_of(key)
        self._found.link_count += 1
        self._found.keys.setdefault(fingerprint, set()).add(body["use"])
        if self._trusted and fingerprint not in self._trusted:
            self._fault("link.key", where, link=link.seq, key=fingerprint)
            return None
        return dict(body, hash=hash_of(link.body))

    def _follow(self, link: Link, use: str, announced: Sequence[Sequence[str]]) -> bool:
        """Whether each key that is said to be named by the one before was; a trusted one passes trust on."""
        try:
            for body, signature in [*announced, [link.body, link.signature.hex()]]:
                told = json.loads(body)
                if told["kind"] != KEY_LINK and body == link.body:
                    continue
                key, following = bytes.fromhex(told["key"]), bytes.fromhex(told["next"])
                place = (told["chain"], told["joint"], told["use"])
                is_genuine = (
                    place == (link.chain, RECORDER, use)
                    and told["seq"] <= link.seq
                    and is_signed(key, bytes.fromhex(signature), body.encode("utf-8"))
                    and is_signed(
                        following, bytes.fromhex(told["next_signature"]), told["previous"].encode("utf-8")
                    )
                )
                if not is_genuine:
                    return False
                if fingerprint_of(key) in self._trusted:
                    self._trusted.add(fingerprint_of(following))
        except (LookupError, TypeError, ValueError, AttributeError, RecursionError):
            return False
        return True

    def _check(self, links: list[dict[str, Any]], joint_uuid: str, chain: str) -> None:
        where = joint_uuid or "recorder"
        before = ""
        for link in links:
            if link["joint_previous"] != before:
                self._fault("link.order", where, link=link["seq"])
            before = link["hash"]
        is_whole = joint_uuid == RECORDER or links[0]["kind"] == "open"
        for table in tables_of(joint_uuid) if is_whole else ("claim", "statement"):
            self._check_table(table, links, joint_uuid, chain)
        if is_whole and joint_uuid:
            self._check_use(links, joint_uuid, chain)
            self._check_samples(links, joint_uuid)

    def _check_table(self, table: str, links: list[dict[str, Any]], joint_uuid: str, chain: str) -> None:
        where = joint_uuid or "recorder"
        covering = [(link, *link["rows"][table]) for link in links if table in link["rows"]]
        if table == "claim" and not covering and links[0]["kind"] != "open":
            return
        rows = self._evidence.rows(table, joint_uuid, chain)
        covered = links[0].get("before", {}).get(table, 0)
        if covered:
            self._note("rows.before_sealing", where, table=table, count=covered)
        for link, since, to, digest in covering:
            if since != covered or to > len(rows):
                self._fault("rows.missing", where, table=table, link=link["seq"])
            elif digest_of(rows[since:to]) != digest:
                self._fault("rows.changed", where, table=table, link=link["seq"])
            covered = to
        if len(rows) != covered:
            add = self._note if table == "event" and not _has_ended(links) else self._fault
            add("rows.unsealed", where, table=table, count=len(rows) - covered)

    def _check_use(self, links: list[dict[str, Any]], joint_uuid: str, chain: str) -> None:
        (row,) = self._evidence.rows("joint", joint_uuid, chain)
        origin, time_scale = row[11:13]
        use = use_for(Origin(str(origin)), time_scale) if isinstance(time_scale, float) else None
        if any(link["use"] != use for link in links):
            self._fault("link.use", joint_uuid)

    def _check_samples(self, links: list[dict[str, Any]], joint_uuid: str) -> None:
        lines = self._evidence.sample_lines(joint_uuid)
        running = hashlib.sha256()
        count = 0
        for link in links:
            if "samples" not in link:
                continue
            total, digest = link["samples"]
            for line in islice(lines, total - count):
                running.update(line)
                count += 1
            if count != total or running.hexdigest() != digest:
                self._fault("samples.changed", joint_uuid, link=link["seq"])
                return
        left = sum(1 for _ in lines)
        if left:
            (self._fault if _has_ended(links) else self._note)("samples.unsealed", joint_uuid, count=left)

    def _fault(self, code: str, where: str, **parameters: str | int) -> None:
        self._found.faults.append(Fault(code=code, where=where, parameters=parameters))

    def _note(self, code: str, where: str, **parameters: str | int) -> None:
        self._found.notes.append(Fault(code=code, where=where, parameters=parameters))


def _has_ended(links: list[dict[str, Any]]) -> bool:
    """Whether the joint, or the last run of the recorder, is over: then nothing may wait for its seal."""
    kinds = [link["kind"] for link in links if link["kind"] in ("run", "run_end", "end")]
    return bool(kinds) and kinds[-1] != "run"
