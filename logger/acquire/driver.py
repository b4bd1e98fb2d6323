"""What the poller asks of a device, whatever its transport."""

from dataclasses import dataclass
from typing import Protocol

from logger.acquire.grouping import Request
from logger.acquire.rtu_frame import exception_text
from logger.domain.sample import RawReading
from logger.errors import DeviceError


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one request brought: raw integers, and the clock just before it left and just after its answer.

    Both times are in seconds of the injected clock, or of the recording for a replay. A channel without a
    value is absent; `readings` may be empty.
    """

    readings: tuple[RawReading, ...]
    sent_s: float
    received_s: float


class RefusedError(DeviceError):
    """The device answered with a Modbus exception: it is there, and says no. `code` is that exception's."""

    def __init__(self, place: str, code: int) -> None:
        self.code = code
        super().__init__(f"{place}: {exception_text(code)}")


class SourceEndedError(DeviceError):
    """The recording is over: nothing more will come from this source."""


class Driver(Protocol):
    """One bus. Its methods raise DeviceError and nothing else; its user never runs two of them at once.

    A driver may be cancelled at any await; it must then never hand a late answer to the next `read`.
    """

    async def ensure_ready(self) -> None:
        """Open the link unless it is open."""

    async def read(self, request: Request) -> Answer:
        """Ask once and return the answer, without retries."""

    async def ensure_closed(self) -> None:
        """Close the link if it is open; never raises."""
