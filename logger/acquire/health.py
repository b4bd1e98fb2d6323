"""Whether a channel's samples arrive: edges, not levels. Pure, but for the log line at each edge."""

import logging
from dataclasses import dataclass
from enum import StrEnum

from logger.domain.channel import Quantity

_log = logging.getLogger(__name__)


class ChannelState(StrEnum):
    """Where a channel's samples stand."""

    WAITING = "waiting"
    """Nothing yet since the start."""
    PRESENT = "present"
    LOST = "lost"
    ENDED = "ended"
    """The recording is over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthEvent:
    """One edge: the channel changed to `state` at `t_ms` of the record's clock.

    `missed_polls` is how many polls failed or fell out since the channel was last present, `reason` what the
    driver said.
    """

    quantity: Quantity
    bus: str
    state: ChannelState
    t_ms: int
    missed_polls: int = 0
    reason: str = ""


class ChannelHealth:
    """The state of one channel; each method returns the edge it made, or None."""

    def __init__(self, quantity: Quantity, bus: str) -> None:
        self.quantity = quantity
        self.bus = bus
        self.state = ChannelState.WAITING
        self.missed_polls = 0

    def failed(self, t_ms: int, reason: str) -> HealthEvent | None:
        """Note a failed poll; logged once, as a warning, until the channel is back."""
        self.missed_polls += 1
        if self.state is ChannelState.LOST:
            return None
        _log.warning("%s lost: %s", self.quantity, reason)
        return self._become(ChannelState.LOST, t_ms, reason)

    def missed(self, slots: int) -> None:
        """Note polls that fell out; they are no edge by themselves."""
        self.missed_polls += slots

    def read(self, t_ms: int) -> HealthEvent | None:
        """Note a sample; a recovery is logged once with the number of polls that were missed."""
        if self.state is ChannelState.PRESENT:
            self.missed_polls = 0
            return None
        if self.state is ChannelState.LOST:
            _log.info("%s back after %d missed polls", self.quantity, self.missed_polls)
        event = self._become(ChannelState.PRESENT, t_ms, "")
        self.missed_polls = 0
        return event

    def ended(self, t_ms: int, reason: str) -> HealthEvent:
        """Note that nothing more will come."""
        _log.info("%s ended: %s", self.quantity, reason)
        return self._become(ChannelState.ENDED, t_ms, reason)

    def _become(self, state: ChannelState, t_ms: int, reason: str) -> HealthEvent:
        self.state = state
        return HealthEvent(
            quantity=self.quantity,
            bus=self.bus,
            state=state,
            t_ms=t_ms,
            missed_polls=self.missed_polls,
            reason=reason,
        )
