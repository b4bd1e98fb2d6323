"""The bounded room between the sampling path and the writer thread."""

import threading
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.domain.record import EventKind, RecordEvent
from logger.domain.sample import RawSample
from logger.errors import StoreError

SAMPLES_DROPPED = "samples_dropped"
"""Code of the gap event that stands in the record for samples that found no room."""


@dataclass(frozen=True, slots=True)
class Batch:
    """What one commit stores: samples by joint, events with the joint they belong to, in order."""

    samples: dict[str, list[RawSample]]
    events: Sequence[tuple[str | None, RecordEvent]]

    @property
    def sample_count(self) -> int:
        return sum(len(samples) for samples in self.samples.values())


@dataclass(slots=True)
class _Dropped:
    first_ms: int
    last_ms: int
    count: int = 0


class Intake:
    """Takes samples without ever waiting for the disk.

    When `capacity` samples wait, a further one is dropped and counted, so that what waits stays without
    holes; the first batch with room again carries an event that names the joint, the count and the times.
    """

    def __init__(self, capacity: int, open_uuids: Iterable[str]) -> None:
        self._capacity = capacity
        self._open = set(open_uuids)
        self._lock = threading.Lock()
        self._samples: deque[tuple[str, RawSample]] = deque()
        self._events: list[tuple[str | None, RecordEvent]] = []
        self._dropped: dict[str, _Dropped] = {}
        self._taken = 0
        self.dropped_count = 0

    @property
    def pending_count(self) -> int:
        return len(self._samples) + self._taken

    def admit(self, joint_uuid: str) -> None:
        with self._lock:
            self._open.add(joint_uuid)

    def shut(self, joint_uuid: str) -> None:
        """Refuse the joint from now on; what it brought before stays."""
        with self._lock:
            self._open.discard(joint_uuid)

    def put(self, joint_uuid: str, sample: RawSample) -> None:
        """Raises StoreError when the joint is not admitted."""
        with self._lock:
            self._check(joint_uuid)
            if self.pending_count < self._capacity:
                self._samples.append((joint_uuid, sample))
                return
            self.dropped_count += 1
            dropped = self._dropped.setdefault(joint_uuid, _Dropped(sample.t_ms, sample.t_ms))
            dropped.count += 1
            dropped.last_ms = sample.t_ms

    def put_event(self, joint_uuid: str | None, event: RecordEvent) -> None:
        """Keep an event; events are few and are never dropped. Raises StoreError like `put`."""
        with self._lock:
            if joint_uuid is not None:
                self._check(joint_uuid)
            self._events.append((joint_uuid, event))

    def take(self) -> Batch | None:
        """Return what waits, or None. It counts as pending until `settle`."""
        with self._lock:
            taken, self._samples = self._samples, deque()
            events, self._events = self._events, []
            dropped, self._dropped = self._dropped, {}
            self._taken = len(taken)
        samples: dict[str, list[RawSample]] = {}
        for joint_uuid, sample in taken:
            samples.setdefault(joint_uuid, []).append(sample)
        events += [(joint_uuid, _event_of(gap)) for joint_uuid, gap in dropped.items()]
        return Batch(samples, events) if samples or events else None

    def settle(self) -> None:
        """The batch taken last is on disk."""
        with self._lock:
            self._taken = 0

    def _check(self, joint_uuid: str) -> None:
        if joint_uuid not in self._open:
            raise StoreError(f"joint {joint_uuid} is not open")


def _event_of(dropped: _Dropped) -> RecordEvent:
    return RecordEvent(
        kind=EventKind.GAP,
        code=SAMPLES_DROPPED,
        t_ms=dropped.first_ms,
        parameters={"count": dropped.count, "from_ms": dropped.first_ms, "to_ms": dropped.last_ms},
    )
