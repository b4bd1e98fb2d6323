"""How the forwarder beside the recorder stands, read now and then from what it tells in its own database."""

import asyncio
from datetime import datetime
from pathlib import Path

from logger.daemon.clock import MachineClock
from logger.domain.forward_status import ForwardStatus, as_seen
from logger.errors import StoreError
from logger.forward.outbox import outbox_path, statuses_of
from logger.wire.live import ForwardingMessage

READ_EVERY_S = 2.0


class ForwardBoard:
    """The last reading; empty where no forwarder ever ran beside this record, or while it cannot be read."""

    def __init__(self, store: Path, clock: MachineClock) -> None:
        self._path = outbox_path(store)
        self._clock = clock
        self.messages: tuple[ForwardingMessage, ...] = ()

    async def keep_fresh(self) -> None:
        """Read for ever, on a thread of its own."""
        while True:
            await asyncio.to_thread(self.read)
            await asyncio.sleep(READ_EVERY_S)

    def read(self) -> None:
        """Read once."""
        now = self._clock.utc()
        try:
            self.messages = tuple(_message(as_seen(one, now), now) for one in statuses_of(self._path))
        except (StoreError, ValueError):
            self.messages = ()


def _message(status: ForwardStatus, now: datetime) -> ForwardingMessage:
    oldest = status.oldest_utc
    age_s = (now - datetime.fromisoformat(oldest)).total_seconds() if oldest else None
    return ForwardingMessage(
        target=status.target,
        state=status.state,
        reason=status.reason,
        backlog=status.backlog,
        oldest_age_s=None if age_s is None else max(0.0, age_s),
        parked=status.parked,
    )
