"""The events since the recorder started, numbered, for whoever asks."""

from collections import deque

from logger.wire.live import EventMessage

CAPACITY = 500


class LogBook:
    """Keeps the latest events; numbers go on, so that a reader sees when some were dropped."""

    def __init__(self) -> None:
        self._events: deque[EventMessage] = deque(maxlen=CAPACITY)
        self._last_seq = 0

    def add(self, at_s: float, code: str, text: str) -> None:
        self._last_seq += 1
        self._events.append(EventMessage(seq=self._last_seq, at_s=at_s, code=code, text=text))

    def since(self, seq: int) -> tuple[EventMessage, ...]:
        """Events numbered above `seq`, oldest first."""
        return tuple(event for event in self._events if event.seq > seq)
