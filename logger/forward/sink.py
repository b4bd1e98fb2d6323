"""What a time-series server answers to a batch of lines, and who may be such a server."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from logger.domain.forward_status import ForwardState


@dataclass(frozen=True, slots=True)
class Delivered:
    """Every line was taken."""


@dataclass(frozen=True, slots=True)
class Rejected:
    """Something in the batch is wrong and will be wrong again: halve it until the line is found."""

    reason: str


@dataclass(frozen=True, slots=True)
class TooLarge:
    """The batch as such is too large."""


@dataclass(frozen=True, slots=True)
class Later:
    """Nothing is wrong with the lines: try again, not before `after_s` where the server said when."""

    state: ForwardState
    reason: str
    after_s: float | None = None


Answer = Delivered | Rejected | TooLarge | Later


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a server says of itself: `trouble` is why it does not answer, empty when it does.

    `utc` is its own clock, `started_s` seconds of the epoch at which it began to run; None where not told.
    """

    trouble: str = ""
    utc: datetime | None = None
    started_s: float | None = None


class Sink(Protocol):
    """A server. Sending the same lines again changes nothing there."""

    def write(self, lines: Sequence[str]) -> Answer:
        """Send a batch and wait for the answer; never raises for what a network or server does."""
        ...

    def look(self) -> Look:
        """Ask how the server is; never raises for what a network or server does."""
        ...

    def close(self) -> None: ...
