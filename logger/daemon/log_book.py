"""The events since the recorder started, numbered, for whoever asks."""

from collections import deque

from logger.wire.live import EventMessage
from logger.wording.events import Parameters, event_text

CAPACITY = 500


class LogBook:
    """Keeps the latest events; numbers go on, so that a reader sees when some were dropped."""

    def __init__(self) -> None:
        self._events: deque[EventMessage] = deque(maxlen=CAPACITY)
        self._last_seq = 0

    def add(self, at_s: float, code: str, parameters: Parameters) -> None:
        self._last_seq += 1
        text = event_text(code, parameters)
        self._events.append(
            EventMessage(seq=self._last_seq, at_s=at_s, code=code, text=text, parameters=dict(parameters))
        )

    def since(self, seq: int) -> tuple[EventMessage, ...]:
        """Events numbered above `seq`, oldest first."""
        return tuple(event for event in self._events if event.seq > seq)
