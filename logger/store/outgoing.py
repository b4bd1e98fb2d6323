"""What is still to be sent elsewhere: joints in the order of the record, and how many samples wait."""

from pathlib import Path

from logger.domain.record import JointRecord
from logger.domain.sample import RawSample
from logger.errors import StoreError
from logger.store import block, reading
from logger.store.connection import open_for_reading, store_errors

_BACKLOG = """
SELECT coalesce(sum(
    coalesce((SELECT sum(sample_count) FROM joint_block WHERE joint_uuid = summary.uuid), 0)
    + coalesce((SELECT sum(sample_count) FROM journal WHERE joint_uuid = summary.uuid), 0)
), 0) FROM summary WHERE joint_id >= ?
"""
_JOURNAL = "SELECT seq, codec, data FROM journal WHERE joint_uuid = ? AND seq > ? ORDER BY seq"


def next_joint(path: Path, joint_id: int) -> tuple[int, JointRecord] | None:
    """Return the first joint from `joint_id` on with its place in the record, None when there is none."""
    connection = open_for_reading(path)
    try:
        with store_errors(path):
            connection.execute("BEGIN")
            row = connection.execute(
                "SELECT joint_id FROM summary WHERE joint_id >= ? ORDER BY joint_id LIMIT 1", (joint_id,)
            ).fetchone()
            if row is None:
                return None
            found = reading.records_where(connection, "WHERE joint.joint_id = ?", (row[0],))
            return int(row[0]), next(found)
    finally:
        connection.close()


def journal_from(path: Path, joint_uuid: str, seq: int) -> tuple[list[RawSample], int]:
    """Return the samples of an open joint that were committed after batch `seq`, and the last batch.

    Raises StoreError when one is damaged or of a layout that is not known.
    """
    samples: list[RawSample] = []
    connection = open_for_reading(path)
    try:
        with store_errors(path):
            for number, codec, data in connection.execute(_JOURNAL, (joint_uuid, seq)):
                if codec != block.CODEC:
                    raise StoreError(f"{path}: samples in layout {codec}, which this Beadwatch does not know")
                samples += block.decode(data)
                seq = number
    finally:
        connection.close()
    return samples, seq


def place_of(path: Path, joint_uuid: str) -> int:
    """Return the place of a joint in the record."""
    connection = open_for_reading(path)
    try:
        with store_errors(path):
            return int(connection.execute("SELECT joint_id FROM summary WHERE uuid = ?", (joint_uuid,)).get)
    finally:
        connection.close()


def samples_from(path: Path, joint_id: int) -> int:
    """Return how many samples the joints from `joint_id` on have, sealed or still open."""
    connection = open_for_reading(path)
    try:
        with store_errors(path):
            return int(connection.execute(_BACKLOG, (joint_id,)).get)
    finally:
        connection.close()
