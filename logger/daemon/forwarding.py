"""The forwarder: reads the record as any stranger may, sends what is new, and never touches the recorder."""

import random
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from logger.daemon.joint_files import recorded_rig
from logger.domain.record import JointRecord
from logger.domain.scale import samples_of
from logger.forward.lines import joint_lines, sample_line, series_of
from logger.forward.outbox import Outbox, Parked, Position, Status
from logger.forward.sink import Answer, Delivered, Later, Refused, Rejected, Sink, TooLarge
from logger.store.outgoing import next_joint, samples_from
from logger.store.reader import Reader
from logger.wire.judgement import judgement_from_json

KEPT_AFTER_S = 60.0
"""A server may lose what it answered less than this long ago: after a failure that much is sent again."""
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 60.0
LOOK_EVERY_S = 2.0
TELL_EVERY_S = 2.0


class Clock(Protocol):
    """Monotonic seconds, and a UTC label."""

    def mono_s(self) -> float: ...

    def utc_text(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Line:
    """A line and where the record has been sent to once it and all before it are through."""

    text: str
    through: Position


@dataclass(slots=True)
class Forwarder:
    """Sends to one target, in the order of the record; every call of `step` sends one batch at most."""

    store: Path
    outbox: Outbox
    target: str
    sink: Sink
    clock: Clock
    batch_lines: int = 5000
    _sent: Position = field(default_factory=Position)
    _kept: Position = field(default_factory=Position)
    _answered: deque[tuple[float, Position]] = field(default_factory=deque)
    _pending: deque[Line] = field(default_factory=deque)
    _wait_s: float = FIRST_WAIT_S
    _state: tuple[str, str, str] = ("", "", "")
    _told_s: float | None = None
    _lines_sent: int = 0

    def step(self) -> float:
        """Send one batch; return after how many seconds to call again.

        Raises StoreError when record or outbox cannot be read.
        """
        self._note_kept()
        if not self._pending:
            self._pending.extend(self._waiting())
        if not self._pending:
            self._tell("caught up", "")
            return LOOK_EVERY_S
        batch = [self._pending.popleft() for _ in range(min(self.batch_lines, len(self._pending)))]
        answer = self._delivered(batch)
        if isinstance(answer, Delivered):
            return self._go_on(batch)
        self._pending.extendleft(reversed(batch))
        return self._hold_back(answer)

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
        self._answered.clear()
        self._pending.clear()

    def _go_on(self, batch: list[Line]) -> float:
        self._wait_s = FIRST_WAIT_S
        self._lines_sent += len(batch)
        self._sent = batch[-1].through
        self._answered.append((self.clock.mono_s(), self._sent))
        self._tell("sending", "")
        return 0.0

    def _hold_back(self, answer: Answer) -> float:
        if isinstance(answer, Later) and not answer.is_busy:
            self._go_back()
        wait_s, self._wait_s = self._wait_s, min(2.0 * self._wait_s, LONGEST_WAIT_S)
        wait_s *= random.uniform(0.5, 1.0)  # so that forty rigs do not come back at once
        if isinstance(answer, Refused):
            self._tell("refused", answer.reason)
            return wait_s
        reason = answer.reason if isinstance(answer, Later) else type(answer).__name__
        self._tell("waiting", reason)
        after_s = answer.after_s if isinstance(answer, Later) else None
        return wait_s if after_s is None else max(wait_s, after_s)

    def _delivered(self, batch: list[Line]) -> Answer:
        """Deliver all lines of a batch but those that the server will never take, which are parked."""
        answer = self.sink.write([line.text for line in batch])
        if not isinstance(answer, Rejected | TooLarge):
            return answer
        if len(batch) == 1:
            reason = answer.reason if isinstance(answer, Rejected) else "too large"
            self.outbox.park(
                self.target, Parked(line=batch[0].text, reason=reason, utc=self.clock.utc_text())
            )
            return Delivered()
        middle = len(batch) // 2
        first = self._delivered(batch[:middle])
        return self._delivered(batch[middle:]) if isinstance(first, Delivered) else first

    def _waiting(self) -> Iterator[Line]:
        """The lines of the next joint that has any; an open joint as far as it goes."""
        while True:
            found = next_joint(self.store, self._sent.joint_id)
            if found is None:
                return
            joint_id, record = found
            lines = list(self._lines_of(joint_id, record))
            if lines or record.end is None:
                yield from lines
                return
            self._sent = Position(joint_id + 1)

    def _lines_of(self, joint_id: int, record: JointRecord) -> Iterator[Line]:
        done = self._sent.samples if joint_id == self._sent.joint_id else 0
        uuid = record.header.uuid
        with Reader(self.store) as reader:
            raws = reader.samples(uuid)
            seal = reader.seal_of(uuid)
        rig = recorded_rig(record)
        series = series_of(record, rig.name)
        for number, sample in enumerate(samples_of(raws, rig), 1):
            if number > done:
                text = sample_line(series, sample)
                if text:
                    yield Line(text, Position(joint_id, number))
        if record.end is None:
            return
        judgement = None if record.judgement_text is None else judgement_from_json(record.judgement_text)
        head = "" if seal.end is None else str(seal.end)
        last = list(joint_lines(series, record, judgement, head))
        for text in last[:-1]:
            yield Line(text, Position(joint_id, len(raws)))
        yield Line(last[-1], Position(joint_id + 1))

    def _tell(self, state: str, reason: str) -> None:
        """Say how it stands: at once when that changes, else every few seconds."""
        now_s = self.clock.mono_s()
        is_news = (state, reason) != self._state[:2]
        if not is_news and self._told_s is not None and now_s - self._told_s < TELL_EVERY_S:
            return
        utc = self.clock.utc_text()
        if is_news:
            self._state = (state, reason, utc)
        self._told_s = now_s
        backlog = max(0, samples_from(self.store, self._sent.joint_id) - self._sent.samples)
        self.outbox.tell(
            self.target,
            Status(
                state=state,
                reason=reason,
                since_utc=self._state[2],
                backlog=backlog,
                sent=self._lines_sent,
                utc=utc,
            ),
        )
