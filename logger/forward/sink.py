"""What a time-series server answers to a batch of lines, and who may be such a server."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


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
class Refused:
    """The server does not let us in, or does not know the place: nothing is wrong with the lines."""

    reason: str


@dataclass(frozen=True, slots=True)
class Later:
    """Try again, not before `after_s` where the server said when.

    `is_busy` says that the server is well and only asks for patience; else it may have been away, and may
    have lost what it answered shortly before.
    """

    reason: str
    after_s: float | None = None
    is_busy: bool = False


Answer = Delivered | Rejected | TooLarge | Refused | Later


class Sink(Protocol):
    """A server. Sending the same lines again changes nothing there."""

    def write(self, lines: Sequence[str]) -> Answer:
        """Send a batch and wait for the answer; never raises for what a network or server does."""
        ...

    def close(self) -> None: ...
