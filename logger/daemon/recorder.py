"""The recorder at work: samples in; joints opened, advanced, closed; every step stored.

Everything here runs on one event loop. The writer commits on a thread of its own; opening and closing a joint
wait for its commit without holding up the samples.
"""

import asyncio
import logging
import uuid
from collections import deque
from collections.abc import Coroutine
from dataclasses import dataclass, field
from typing import Any

from logger import __version__
from logger.acquire.health import ChannelState, HealthEvent
from logger.daemon.channel_board import ChannelBoard
from logger.daemon.clock import MachineClock
from logger.daemon.joint_files import Bench, PlannedJoint, claim_of, header_of, planned_joint
from logger.daemon.log_book import LogBook
from logger.daemon.recovery import seal, session_of
from logger.domain.bus import Installation
from logger.domain.event import JointEnded, PhaseChanged
from logger.domain.phase import Phase
from logger.domain.record import EventKind, OpenJoint, RecordEvent
from logger.domain.rig import Origin
from logger.domain.sample import RawSample
from logger.domain.scale import sample_of
from logger.errors import DeviceError, StoreError
from logger.session.advance import advance
from logger.session.state import Abort, Finish, SessionState, Setting, opened
from logger.store.writer import Writer
from logger.wire.live import Accepted, ClaimCommand, StateMessage, StoreMessage
from logger.wording.events import ended_text, phase_text

_log = logging.getLogger(__name__)

WATCH_S = 1800.0
"""Samples kept while no joint is open: longer than any soak, so that an unnamed joint is stored whole."""
_CLOSING = {Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP, Phase.COOLING}


@dataclass
class OpenRecord:
    """The joint being recorded: where its clock begins, and its state."""

    uuid: str
    number: str | None
    attempt: int | None
    epoch_ms: int
    opened_mono_ms: int
    session: SessionState
    unstored: list[RawSample] = field(default_factory=list)
    is_open: bool = False
    """False until the writer has the header; samples wait in `unstored` until then."""


class Recorder:
    """Joins poller, session and writer."""

    def __init__(
        self, installation: Installation, rig_text: str, clock: MachineClock, writer: Writer
    ) -> None:
        self._installation = installation
        self._rig_text = rig_text
        self._clock = clock
        self._writer = writer
        self._log_book = LogBook()
        self._current: OpenRecord | None = None
        self._watch = opened(self._setting(None))
        self._watched: deque[RawSample] = deque()
        self._board = ChannelBoard(installation.rig)
        self._last: tuple[str | None, str, str] | None = None
        self._tasks: set[asyncio.Task[None]] = set()

    def on_sample(self, raw: RawSample) -> None:
        """Take one poll. Never waits and never raises for the store's sake: sampling goes on."""
        self._board.read(raw)
        current = self._current
        if current is None:
            self._on_watched(raw)
            return
        shifted = RawSample(
            t_ms=raw.t_ms - current.epoch_ms, half_width_ms=raw.half_width_ms, readings=raw.readings
        )
        self._store(current, shifted)
        current.session, events = advance(current.session, sample_of(shifted, self._installation.rig))
        self._tell(current, events)

    def on_health(self, event: HealthEvent) -> None:
        """Note that a channel was lost or came back."""
        self._board.states[event.quantity] = event.state
        current = self._current
        epoch_ms = current.epoch_ms if current else 0
        t_ms = event.t_ms - epoch_ms
        text = f"{event.quantity} {event.state}" + (f": {event.reason}" if event.reason else "")
        self._log_book.add(t_ms / 1000, f"channel.{event.state}", text)
        self._note(EventKind.HEALTH, f"{event.quantity}.{event.state}", t_ms, {"reason": event.reason})
        if event.state is ChannelState.ENDED and self._board.all_ended:
            self._command(Finish(reason="source ended"))

    async def start_joint(self, joint_toml: str, file: str = "joint.toml") -> Accepted:
        """Open a joint. Raises InputError, ProcedureRefusal, DeviceError when one is open already."""
        planned = planned_joint(joint_toml, file, self._installation.rig)
        if self._current is not None:
            raise DeviceError(f"joint {self._current.number or 'without a name'} is still open")
        record = self._begin(planned)
        await self._admit(record, planned)
        return Accepted(joint_uuid=record.uuid, attempt=record.attempt)

    async def abort_joint(self, reason: str) -> Accepted:
        """Break the open joint off; what was recorded stays. Raises DeviceError when none is open."""
        current = self._current
        if current is None:
            raise DeviceError("no joint is open")
        self._command(Abort(reason=reason))
        await self.settled()
        return Accepted(joint_uuid=current.uuid, attempt=current.attempt)

    async def claim_joint(self, command: ClaimCommand) -> Accepted:
        """Name an unnamed joint of the record. Raises StoreError when it has a name or is not there."""
        claim = claim_of(command, self._clock)
        attempt = await asyncio.to_thread(self._writer.claim_joint, command.joint_uuid, claim)
        return Accepted(joint_uuid=command.joint_uuid, attempt=attempt)

    async def settled(self) -> None:
        """Return when no opening or closing is under way."""
        while self._tasks:
            await asyncio.gather(*self._tasks)

    async def resume(self, found: OpenJoint, samples: list[RawSample]) -> None:
        """Take up a joint that a stop of the recorder cut in two: the gap is in its record, and its curve."""
        header = found.record.header
        session = session_of(found.record, samples)
        self._current = OpenRecord(
            uuid=header.uuid,
            number=found.record.number,
            attempt=found.record.attempt,
            epoch_ms=self._epoch_ms(header.opened.mono_ms),
            opened_mono_ms=header.opened.mono_ms,
            session=session,
            is_open=True,
        )
        now_ms = self._clock.stamp().mono_ms - self._current.epoch_ms
        self._note(EventKind.GAP, "recorder_stopped", now_ms, {"from_s": (found.last_t_ms or 0) / 1000})
        self._log_book.add(now_ms / 1000, "joint.resumed", f"joint {found.record.number} goes on after a gap")
        if session.is_over:
            self._command(Finish(reason="released before the recorder stopped"))

    def state(self, since_seq: int = 0) -> StateMessage:
        """The recorder now, with the events numbered above `since_seq`."""
        current = self._current
        tracked = (current.session if current else self._watch).tracked
        health = self._writer.health()
        last_joint, last_uuid, last_verdict = self._last or (None, None, None)
        return StateMessage(
            software=__version__,
            rig=self._installation.rig.name,
            origin=self._installation.rig.origin,
            time_scale=self._clock.time_scale,
            joint=current.number if current else None,
            joint_uuid=current.uuid if current else None,
            attempt=current.attempt if current else None,
            phase=tracked.phase,
            phase_since_s=tracked.since_s if tracked.phase else None,
            now_s=tracked.now_s,
            channels=self._board.messages(self._clock.mono_s()),
            store=StoreMessage(error=health.error, pending=health.pending, dropped=health.dropped),
            events=self._log_book.since(since_seq),
            last_joint=last_joint,
            last_joint_uuid=last_uuid,
            last_verdict=last_verdict,
        )

    def _setting(self, planned: PlannedJoint | None) -> Setting:
        return Setting(
            joint=planned.joint.joint if planned else None,
            plan=planned.plan if planned else None,
            rig=self._installation.rig,
            origin=self._installation.rig.origin,
            time_scale=self._clock.time_scale,
        )

    def _epoch_ms(self, mono_ms: int) -> int:
        """A replay keeps the times of its file; everything else counts from the opening of the joint."""
        return 0 if self._installation.rig.origin is Origin.REPLAY else mono_ms

    def _begin(self, planned: PlannedJoint | None, from_ms: int | None = None) -> OpenRecord:
        now_ms = self._clock.stamp().mono_ms if from_ms is None else from_ms
        self._current = OpenRecord(
            uuid=str(uuid.uuid4()),
            number=planned.joint.joint if planned else None,
            attempt=None,
            epoch_ms=self._epoch_ms(now_ms),
            opened_mono_ms=now_ms,
            session=opened(self._setting(planned)),
        )
        return self._current

    async def _admit(self, record: OpenRecord, planned: PlannedJoint | None) -> None:
        header = header_of(
            planned,
            Bench(self._installation, self._rig_text, self._clock),
            joint_uuid=record.uuid,
            opened_mono_ms=record.opened_mono_ms,
        )
        try:
            record.attempt = await asyncio.to_thread(self._writer.open_joint, header)
        except StoreError:
            self._current = None
            raise
        record.is_open = True
        waiting, record.unstored = record.unstored, []
        for raw in waiting:
            self._writer.append(record.uuid, raw)
        name = record.number or "without a name"
        self._log_book.add(0.0, "joint.opened", f"joint {name}, attempt {record.attempt}")

    def _on_watched(self, raw: RawSample) -> None:
        """Without a joint open, watch for what looks like one: it is stored all the same, to be claimed."""
        self._watched.append(raw)
        while raw.t_ms - self._watched[0].t_ms > WATCH_S * 1000:
            self._watched.popleft()
        self._watch, events = advance(self._watch, sample_of(raw, self._installation.rig))
        if any(isinstance(event, PhaseChanged) and event.after in _CLOSING for event in events):
            self._open_unnamed()
        elif len(self._watch.samples) > 2 * max(len(self._watched), 1) and self._watch.tracked.phase is None:
            self._watch = opened(self._setting(None))

    def _open_unnamed(self) -> None:
        rows = list(self._watched)
        record = self._begin(None, from_ms=rows[0].t_ms)
        self._forget_watch()
        self._spawn(self._admit(record, None))
        for raw in rows:
            self.on_sample(raw)

    def _forget_watch(self) -> None:
        self._watched.clear()
        self._watch = opened(self._setting(None))

    def _store(self, record: OpenRecord, raw: RawSample) -> None:
        if record.is_open:
            self._writer.append(record.uuid, raw)
        else:
            record.unstored.append(raw)

    def _note(self, kind: EventKind, code: str, t_ms: int, parameters: dict[str, str | float]) -> None:
        current = self._current
        joint_uuid = current.uuid if current and current.is_open else None
        event = RecordEvent(kind=kind, code=code, at=self._clock.stamp(), t_ms=t_ms, parameters=parameters)
        self._writer.append_event(joint_uuid, event)

    def _command(self, command: Abort | Finish) -> None:
        current = self._current
        if current is None:
            return
        current.session, events = advance(current.session, command)
        self._tell(current, events)

    def _tell(self, record: OpenRecord, events: tuple[PhaseChanged | JointEnded, ...]) -> None:
        for event in events:
            if isinstance(event, PhaseChanged):
                self._log_book.add(event.at_s, f"phase.{event.after or 'none'}", phase_text(event))
                parameters: dict[str, str | float] = {"cause": event.cause, "seen_at_s": event.seen_at_s}
                code = event.after or "none"
                self._note(EventKind.PHASE, code, round(event.at_s * 1000), parameters)
            else:
                self._current = None
                self._forget_watch()
                self._spawn(self._seal(record, event))

    async def _seal(self, record: OpenRecord, event: JointEnded) -> None:
        while not record.is_open:
            await asyncio.sleep(0.01)
        verdict = event.judgement.verdict
        try:
            await asyncio.to_thread(seal, self._writer, record.uuid, event, self._clock.stamp())
        except StoreError as error:
            # The samples are on disk as far as they could be; the joint stays open there and is closed as
            # interrupted at the next start.
            _log.exception("joint %s could not be sealed", record.number)
            self._log_book.add(record.session.tracked.now_s, "store.failed", str(error))
        else:
            self._last = (record.number, record.uuid, verdict)
            self._log_book.add(record.session.tracked.now_s, "joint.ended", ended_text(event))

    def _spawn(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
