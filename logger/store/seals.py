"""Reading seals without verifying them: the head to print, how far a joint is sealed."""

import json

import apsw

from logger.domain.seal import ChainHead, JointSeal, SealState
from logger.store.chain import hash_of
from logger.store.keys import fingerprint_of
from logger.store.reading import chain_of


def chain_head(connection: apsw.Connection) -> ChainHead | None:
    """Return the latest link of the record's own chain."""
    row = connection.execute(
        "SELECT chain, seq, body FROM link WHERE chain = ? ORDER BY seq DESC LIMIT 1", (chain_of(connection),)
    ).fetchone()
    return None if row is None else _head(*row)


def seal_of(connection: apsw.Connection, joint_uuid: str) -> JointSeal:
    """Return what the links about a joint say; statements do not count."""
    links = connection.execute(
        "SELECT chain, seq, body FROM link WHERE joint_uuid = ? ORDER BY chain, seq", (joint_uuid,)
    )
    found = [(json.loads(body), chain, seq, body) for chain, seq, body in links]
    homes = {chain for link, chain, *_ in found if link["kind"] == "open"}
    own = [(link, place) for link, *place in found if place[0] in homes]
    if not own:
        return JointSeal(state=SealState.UNSEALED)
    ends = [(link, _head(*place)) for link, place in own if link["kind"] == "end"]
    last = ends[-1][0] if ends else own[-1][0]
    return JointSeal(
        state=SealState.SEALED if ends else SealState.OPEN,
        end=ends[-1][1] if ends else None,
        last=_head(*own[-1][1]),
        key=fingerprint_of(bytes.fromhex(last["key"])),
        use=last["use"],
        minute_count=sum(1 for link, _ in own if link["kind"] == "minute"),
        is_local=chain_of(connection) in homes,
    )


def _head(chain: str, seq: int, body: str) -> ChainHead:
    return ChainHead(chain=chain, seq=seq, hash=hash_of(body), utc=json.loads(body)["at"])
