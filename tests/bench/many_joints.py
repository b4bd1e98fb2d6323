"""A large record in little time: curves that it holds already, taken over under further headers."""

import json
from collections.abc import Iterable, Sequence
from itertools import count, islice
from pathlib import Path
from typing import Any

import apsw

from logger.domain.record import EmittedJudgement, JointEnd, JointHeader
from logger.store import rows
from logger.store.chain import Chain
from logger.store.connection import open_for_writing
from logger.store.keys import Keys
from logger.store.transaction import transaction

AT_ONCE = 500
"""Joints in one transaction."""
_BLOCKS = "seq, first_ms, last_ms, sample_count, codec, sha256, data"


def copied(
    path: Path,
    run_id: int,
    judgements: Sequence[EmittedJudgement],
    joints: Iterable[tuple[JointHeader, JointEnd]],
) -> None:
    """Store further joints: they take turns with the curves of the first joints, one for each judgement.

    Links are made and signed for each by the chain itself; only the running hash, which depends on nothing
    but the samples, is the one that the curve was sealed with.
    """
    connection = open_for_writing(path)
    connection.pragma("synchronous", "off")
    chain = Chain(Keys.beside(path), "")
    uuids = [uuid for (uuid,) in connection.execute("SELECT uuid FROM joint ORDER BY joint_id")]
    seals = [_seals_of(connection, uuid) for uuid in uuids]
    coming = iter(joints)
    for first in count(0, AT_ONCE):
        batch = list(islice(coming, AT_ONCE))
        with transaction(connection):
            for number, (header, end) in enumerate(batch, first):
                which = number % len(uuids)
                rows.insert_joint(connection, run_id, header)
                chain.utc = header.opened.utc
                chain.append(connection, header.uuid, "open")
                for more in seals[which][:-1]:
                    chain.append(connection, header.uuid, "minute", more)
                connection.execute(
                    f"INSERT INTO joint_block (joint_uuid, {_BLOCKS}) "  # noqa: S608 - columns above
                    f"SELECT ?, {_BLOCKS} FROM joint_block WHERE joint_uuid = ?",
                    (header.uuid, uuids[which]),
                )
                rows.insert_judgement(connection, header.uuid, judgements[which])
                rows.insert_end(connection, run_id, header.uuid, end)
                chain.utc = end.at.utc
                chain.append(connection, header.uuid, "end", seals[which][-1])
        if len(batch) < AT_ONCE:
            break
    connection.close()


def _seals_of(connection: apsw.Connection, uuid: str) -> list[dict[str, Any]]:
    """What the links that sealed samples of a joint say of them; the last is that of its end."""
    links = connection.execute("SELECT body FROM link WHERE joint_uuid = ? ORDER BY seq", (uuid,))
    bodies = [json.loads(body) for (body,) in links]
    return [{key: body[key] for key in ("samples", "minute")} for body in bodies if "samples" in body]
