"""How forwarding to one target stands."""

from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

SILENT_AFTER_S = 60.0
"""The forwarder tells something every ten seconds, or after the time-out of its server: a choice."""


class ForwardState(StrEnum):
    """What the forwarder is doing, or why it is not; SILENT is what others say when it tells nothing."""

    CAUGHT_UP = "caught_up"
    SENDING = "sending"
    SERVER_DOWN = "server_down"
    NOT_TRUSTED = "not_trusted"
    SERVER_BUSY = "server_busy"
    SERVER_FAULT = "server_fault"
    DISK_FULL = "disk_full"
    WRONG_TOKEN = "wrong_token"
    NO_BUCKET = "no_bucket"
    CLOCK_WRONG = "clock_wrong"
    SILENT = "silent"


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardStatus:
    """As told at `utc`, in this state since `since_utc`.

    `backlog` samples wait, the oldest of `oldest_utc` (empty when none does); `sent` lines went out since the
    forwarder started; `parked` lines were put aside.
    """

    target: str
    state: ForwardState
    reason: str
    since_utc: str
    backlog: int
    oldest_utc: str
    sent: int
    parked: int
    utc: str


def as_seen(status: ForwardStatus, now: datetime) -> ForwardStatus:
    """Return what was told, or that nothing was told for long; its reason is then the state before."""
    age_s = (now - datetime.fromisoformat(status.utc)).total_seconds()
    if age_s <= SILENT_AFTER_S:
        return status
    return replace(status, state=ForwardState.SILENT, reason=f"last {status.state}", since_utc=status.utc)
