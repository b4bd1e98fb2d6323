"""Whether a channel's samples arrive: edges, not levels. Pure, but for the log line at each edge."""

import logging
import re
from dataclasses import dataclass, replace
from enum import StrEnum

from logger.domain.channel import Quantity

_log = logging.getLogger(__name__)

_SETTLED_POLLS = 2
"""A new reason is told once so many polls in a row have failed for it: one reply may be damaged by chance."""
_AGAIN_POLLS = 10
"""One that was told since the loss is told again after so many, so that two in turn do not fill the log."""
_PARTICULARS = re.compile(r"""b?'(?:[^'\\]|\\.)*'|b?"(?:[^"\\]|\\.)*"|\b0x[0-9a-f]+|\d+""")
"""What differs from one reply to the next: quoted bytes, counts. An error number stays with its words."""


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
    driver said. With `is_new_reason` the channel was lost before, for another reason.
    """

    quantity: Quantity
    bus: str
    state: ChannelState
    t_ms: int
    missed_polls: int = 0
    reason: str = ""
    is_new_reason: bool = False


class ChannelHealth:
    """The state of one channel; each method returns the edge it made, or None."""

    def __init__(self, quantity: Quantity, bus: str) -> None:
        self.quantity = quantity
        self.bus = bus
        self.state = ChannelState.WAITING
        self.missed_polls = 0
        self._told: set[str] = set()
        self._told_last = self._kind = ""
        self._in_a_row = 0

    def failed(self, t_ms: int, reason: str) -> HealthEvent | None:
        """Note a failed poll; a warning at the loss, and one whenever its reason has become another."""
        self.missed_polls += 1
        kind = _PARTICULARS.sub("", reason)
        self._in_a_row = self._in_a_row + 1 if kind == self._kind else 1
        self._kind = kind
        if self.state is not ChannelState.LOST:
            self._told = {kind}
            self._told_last = kind
            _log.warning("%s lost: %s", self.quantity, reason)
            return self._become(ChannelState.LOST, t_ms, reason)
        enough = _AGAIN_POLLS if kind in self._told else _SETTLED_POLLS
        if kind == self._told_last or self._in_a_row < enough:
            return None
        self._told.add(kind)
        self._told_last = kind
        _log.warning("%s still lost, now: %s", self.quantity, reason)
        return replace(self._become(ChannelState.LOST, t_ms, reason), is_new_reason=True)

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
