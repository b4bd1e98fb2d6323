"""The forwarder: reads the record as any stranger may, sends what is new, and never touches the recorder."""

import random
from collections import deque
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from logger.daemon.forward_source import Line, LineSource
from logger.domain.forward_status import ForwardState, ForwardStatus
from logger.forward.outbox import Outbox, Parked, Position
from logger.forward.sink import Delivered, Later, Look, Rejected, Sink, TooLarge
from logger.store.outgoing import samples_from
from logger.wording.forward_text import ahead_text, clock_text

KEPT_AFTER_S = 60.0
"""A server that begins anew may have lost what it answered less than this long ago: that is sent again."""
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 60.0
LOOK_EVERY_S = 2.0
TELL_EVERY_S = 2.0
ASK_SENDING_S, ASK_IDLE_S = 25.0, 60.0
"""How often a server is asked whether it is still the one that took what it answered last: once at least in
the second half of `KEPT_AFTER_S`, when what it took is surely on its disk."""
CLOCKS_DIFFER_S = 60.0
"""Of the server's clock and this machine's: more is said to be wrong. A choice."""
AHEAD_MS = 24 * 3_600_000
"""Times further ahead of the server's clock are not sent: VictoriaMetrics 1.79 drops what lies more than two
days ahead without a word (5 days seen). The day is a choice."""
_PATIENT = {ForwardState.SERVER_BUSY, ForwardState.WRONG_TOKEN, ForwardState.NO_BUCKET}
"""The server is well: what it took before it still has."""


class Clock(Protocol):
    """Monotonic seconds, and UTC."""

    def mono_s(self) -> float: ...

    def utc(self) -> datetime: ...


@dataclass(slots=True)
class Forwarder:
    """Sends to one target, in the order of the record; every call of `step` sends one batch at most."""

    store: Path
    outbox: Outbox
    target: str
    sink: Sink
    clock: Clock
    batch_lines: int = 5000
    last_joint: int | None = None
    """Place in the record of the last joint to send; None for all that there is and will be."""
    _source: LineSource = field(init=False)
    _sent: Position = field(default_factory=Position)
    _kept: Position = field(default_factory=Position)
    _answered: deque[tuple[float, Position]] = field(default_factory=deque)
    _pending: deque[Line] = field(default_factory=deque)
    _wait_s: float = FIRST_WAIT_S
    _look: Look = field(default_factory=Look)
    _looked_s: float | None = None
    _started_s: float | None = None
    _ahead_s: float | None = None
    """Of this machine's clock before the server's, where that says."""
    _is_unsure: bool = False
    """A failure since the last look: the server may have begun anew."""
    _doubtful: Position = field(default_factory=Position)
    _told: ForwardStatus | None = None
    _told_s: float = 0.0
    _oldest_ms: int | None = None
    _lines_sent: int = 0

    def __post_init__(self) -> None:
        self._source = LineSource(self.store, self.last_joint)

    def step(self) -> float:
        """Send one batch; return after how many seconds to call again.

        Raises StoreError when record or outbox cannot be read.
        """
        self._ask()
        self._note_kept()
        if not self._pending:
            lines, self._sent = self._source.after(self._sent)
            self._pending.extend(lines)
        self._oldest_ms = self._pending[0].at_ms if self._pending else None
        if not self._pending:
            down = ForwardState.SERVER_DOWN if self._look.trouble else ForwardState.CAUGHT_UP
            self._tell(down, self._look.trouble)
            return LOOK_EVERY_S
        batch = [self._pending.popleft() for _ in range(min(self.batch_lines, len(self._pending)))]
        answer = self._timely(batch)
        if isinstance(answer, Delivered):
            return self._go_on(batch)
        self._pending.extendleft(reversed(batch))
        return self._hold_back(answer)

    @property
    def is_caught_up(self) -> bool:
        """Nothing waited at the last step, and the server was there."""
        return self._oldest_ms is None and not self._look.trouble and self._told is not None

    def tell_again(self) -> None:
        """Say that all is as told last, so that nobody thinks the forwarder gone; for long waits."""
        if self._told is not None:
            self._tell(self._told.state, self._told.reason)

    def _ask(self) -> None:
        """Look at the server now and then, and after every failure: it may have lost what it took last."""
        now_s = self.clock.mono_s()
        every_s = ASK_SENDING_S if self._answered else ASK_IDLE_S
        if not self._is_unsure and self._looked_s is not None and now_s - self._looked_s < every_s:
            return
        self._looked_s = now_s
        self._look = look = self.sink.look()
        self._ahead_s = None if look.utc is None else (self.clock.utc() - look.utc).total_seconds()
        if look.started_s is None:
            if self._is_unsure or look.trouble:
                self._go_back_once()
        elif self._started_s is None or look.started_s > self._started_s:
            # Only a later one than all before: behind one address there may be several servers.
            self._started_s = look.started_s
            self._go_back()
        self._is_unsure = False

    def _note_kept(self) -> None:
        """Move the position that is safe; go back when it is unknown, or when somebody put it back."""
        now_s = self.clock.mono_s()
        safe = self._kept
        while self._answered and now_s - self._answered[0][0] >= KEPT_AFTER_S:
            safe = self._answered.popleft()[1]
        if self.outbox.kept(self.target) != self._kept or (
            safe != self._kept and not self.outbox.keep(self.target, safe, was=self._kept)
        ):
            self._go_back()
        else:
            self._kept = safe

    def _go_back(self) -> None:
        self._kept = self._sent = self.outbox.kept(self.target)
        self._doubtful = Position()
        self._answered.clear()
        self._pending.clear()

    def _go_back_once(self) -> None:
        """Go back after a failure that may have been a restart.

        What was answered twice, with one such failure between, counts as kept: else nothing would ever
        get through to a server that does not tell its start over a link that breaks every minute.
        """
        doubtful, twice = max(self._doubtful, self._sent), min(self._doubtful, self._sent)
        if twice > self._kept:
            self.outbox.keep(self.target, twice, was=self._kept)
        self._go_back()
        self._doubtful = doubtful

    def _go_on(self, batch: list[Line]) -> float:
        self._wait_s = FIRST_WAIT_S
        self._lines_sent += len(batch)
        self._sent = batch[-1].through
        self._answered.append((self.clock.mono_s(), self._sent))
        self._tell(ForwardState.SENDING, "")
        return 0.0

    def _hold_back(self, answer: Later) -> float:
        if answer.state is ForwardState.DISK_FULL:
            self._go_back()
        self._is_unsure = answer.state not in _PATIENT
        wait_s, self._wait_s = self._wait_s, min(2.0 * self._wait_s, LONGEST_WAIT_S)
        wait_s *= random.uniform(0.5, 1.0)  # so that forty rigs do not come back at once
        self._tell(answer.state, answer.reason)
        return wait_s if answer.after_s is None else max(wait_s, answer.after_s)

    @property
    def _is_clock_wrong(self) -> bool:
        return self._ahead_s is not None and abs(self._ahead_s) > CLOCKS_DIFFER_S

    def _timely(self, batch: list[Line]) -> Delivered | Later:
        """Deliver what does not lie too far ahead of the server's clock.

        The rest waits while this machine's clock is wrong, since somebody has to set it; once it is right,
        what was recorded before stays as it is and is put aside.
        """
        if self._ahead_s is None:
            return self._delivered(batch)
        server_ms = round(1000 * (self.clock.utc().timestamp() - self._ahead_s))
        early = [line for line in batch if line.at_ms > server_ms + AHEAD_MS]
        if early and self._is_clock_wrong:
            return Later(ForwardState.CLOCK_WRONG, clock_text(self._ahead_s))
        for line in early:
            self._park(line, ahead_text((line.at_ms - server_ms) / 1000))
        rest = [line for line in batch if line.at_ms <= server_ms + AHEAD_MS]
        return self._delivered(rest) if rest else Delivered()

    def _delivered(self, batch: list[Line]) -> Delivered | Later:
        """Deliver all lines of a batch but those that the server will never take, which are parked."""
        answer = self.sink.write([line.text for line in batch])
        if not isinstance(answer, Rejected | TooLarge):
            return answer
        if len(batch) == 1:
            self._park(batch[0], answer.reason if isinstance(answer, Rejected) else "too large")
            return Delivered()
        middle = len(batch) // 2
        first = self._delivered(batch[:middle])
        return self._delivered(batch[middle:]) if isinstance(first, Delivered) else first

    def _park(self, line: Line, reason: str) -> None:
        self.outbox.park(self.target, Parked(line=line.text, reason=reason, utc=_utc_text(self.clock.utc())))

    def _tell(self, state: ForwardState, reason: str) -> None:
        """Say how it stands: at once when the state changes, else every few seconds."""
        if self._is_clock_wrong and state in (ForwardState.SENDING, ForwardState.CAUGHT_UP):
            state, reason = ForwardState.CLOCK_WRONG, clock_text(self._ahead_s or 0.0)
        now_s = self.clock.mono_s()
        before = self._told
        is_news = before is None or before.state is not state
        if not is_news and now_s - self._told_s < TELL_EVERY_S:
            return
        utc = _utc_text(self.clock.utc())
        oldest = self._oldest_ms
        self._told_s = now_s
        self._told = ForwardStatus(
            target=self.target,
            state=state,
            reason=reason,
            since_utc=utc if before is None or is_news else before.since_utc,
            backlog=max(0, samples_from(self.store, self._sent.joint_id) - self._sent.samples),
            oldest_utc="" if oldest is None else _utc_text(datetime.fromtimestamp(oldest / 1000, UTC)),
            sent=self._lines_sent,
            parked=0,
            utc=utc,
        )
        self.outbox.tell(self._told)


def _utc_text(utc: datetime) -> str:
    return utc.isoformat(timespec="milliseconds").replace("+00:00", "Z")
