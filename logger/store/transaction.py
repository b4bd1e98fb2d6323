"""One explicit write transaction."""

from collections.abc import Iterator
from contextlib import contextmanager

import apsw


@contextmanager
def transaction(connection: apsw.Connection) -> Iterator[None]:
    """BEGIN IMMEDIATE, then COMMIT, or ROLLBACK on any error."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # A full disk or an I/O error may have rolled back already.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
