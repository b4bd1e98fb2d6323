"""The recorder at work: samples in; joints opened, advanced, closed; every step stored.

Everything here runs on one event loop. The poller has a thread of its own, so that what is computed here
keeps no poll waiting. So has the writer: opening and closing a joint wait for its commit and hold up nothing.
"""

import asyncio
import logging
from collections.abc import Coroutine, Mapping
from dataclasses import replace
from typing import Any

from logger.acquire.health import ChannelState, HealthEvent
from logger.daemon.channel_board import ChannelBoard
from logger.daemon.clock import MachineClock
from logger.daemon.confirmations import Confirmations
from logger.daemon.joint_files import Bench, PlannedJoint, claim_of, header_of, planned_joint, setting_for
from logger.daemon.log_book import LogBook
from logger.daemon.open_record import OpenRecord, admit, admit_in_the_end, new_record
from logger.daemon.plate_watch import PlateWatch
from logger.daemon.recovery import Found, resumed, seal
from logger.daemon.state_message import Now, state_message
from logger.daemon.surface_message import HandSurfaces
from logger.daemon.tidings import end_parameters, tidings_of
from logger.daemon.watch import Watch
from logger.domain.bus import Installation
from logger.domain.channel import Quantity
from logger.domain.event import Event, JointEnded
from logger.domain.phase import Phase
from logger.domain.record import EventKind, JointHeader, RecordEvent
from logger.domain.sample import RawSample
from logger.errors import DeviceError, StoreError
from logger.session.advance import advance
from logger.session.state import Abort, Command, Finish
from logger.store.writer import Writer
from logger.wire.live import Accepted, AlarmMessage, ClaimCommand, StateMessage
from logger.wording.events import Parameters, event_text

_log = logging.getLogger(__name__)

CLOSING = {Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP, Phase.COOLING}
STOP_PATIENCE_S = 10.0
"""Real seconds that a stop waits for joints still on their way into the record."""


class Recorder:
    """Joins poller, session and writer."""

    def __init__(
        self, installation: Installation, rig_text: str, clock: MachineClock, writer: Writer
    ) -> None:
        self._installation = installation
        self._bench = Bench(installation, rig_text, clock)
        self._clock = clock
        self._writer = writer
        self._log_book = LogBook()
        self._current: OpenRecord | None = None
        self._watch = Watch(setting_for(None, self._bench))
        self._board = ChannelBoard(installation.rig)
        self._plate = PlateWatch()
        self._by_hand = HandSurfaces()
        self._last: tuple[str | None, str, str] | None = None
        self._alarms: list[AlarmMessage] = []
        self._pressure_mono_s: float | None = None
        self._confirmations = Confirmations(self, writer, clock)
        self._tasks: set[asyncio.Task[None]] = set()

    def on_sample(self, raw: RawSample) -> None:
        """Take one poll. Never waits and never raises for the store's sake: sampling goes on."""
        self._plate.read(self._board.read(raw))
        if any(reading.quantity is Quantity.PRESSURE for reading in raw.readings):
            self._pressure_mono_s = self._clock.mono_s()
        current = self._current
        if current is None:
            if self._watch.look(raw):
                self._open_unnamed()
            return
        shifted = current.shifted(raw)
        if shifted.t_ms < 0 and not self._bench.is_replay:
            # Polled before the joint was opened and still on its way here.
            return
        current.keep(self._writer, shifted)
        current.session, events = advance(current.session, current.scaler.read(shifted))
        self._tell(current, events)

    def on_health(self, event: HealthEvent) -> None:
        """Note that a channel was lost, for another reason now, or came back."""
        self._board.states[event.quantity] = event.state
        current = self._current
        epoch_ms = current.epoch_ms if current else 0
        t_ms = event.t_ms - epoch_ms
        parameters = {"quantity": event.quantity, "reason": event.reason}
        what = "still_lost" if event.is_new_reason else event.state
        self._log_book.add(t_ms / 1000, f"channel.{what}", parameters)
        self._note(EventKind.HEALTH, f"{event.quantity}.{what}", t_ms, {"reason": event.reason})
        if event.state is ChannelState.ENDED and self._board.all_ended:
            self.command(Finish(reason="source ended"))

    async def start_joint(self, joint_toml: str, file: str = "joint.toml") -> Accepted:
        """Open a joint. Raises InputError, ProcedureRefusal, DeviceError when one is open already."""
        planned = planned_joint(joint_toml, file, self._installation.rig)
        self._make_way()
        record = self._begin(planned)
        try:
            await admit(record, self._header(record), self._writer)
        except StoreError:
            self._current = None
            for raw in record.samples:
                self.on_sample(record.unshifted(raw))
            raise
        self._say_opened(record)
        return Accepted(joint_uuid=record.uuid, attempt=record.attempt)

    def _make_way(self) -> None:
        """End a joint that was released, or one without a name that is not being closed.

        Raises DeviceError for any other.
        """
        current = self._current
        if current is None:
            return
        tracked = current.session.tracked
        if tracked.finished_at_s is None and (current.number is not None or tracked.phase in CLOSING):
            raise DeviceError(f"joint {current.number or 'without a name'} is still open")
        self.command(Finish(reason="another joint was opened"))

    async def abort_joint(self, reason: str) -> Accepted:
        """Break the open joint off; what was recorded stays. Raises DeviceError when none is open."""
        current = self._current
        if current is None:
            raise DeviceError("no joint is open")
        self.command(Abort(reason=reason))
        await self.settled()
        return Accepted(joint_uuid=current.uuid, attempt=current.attempt)

    async def confirm_drag(self, pressure_bar: float, by: str) -> Accepted:
        """Take a person's word for the drag of the open joint: see `Confirmations`."""
        return await self._confirmations.drag(pressure_bar, by)

    async def confirm_bead(self, by: str) -> Accepted:
        """Take a person's word that the bead stands all round: see `Confirmations`."""
        return await self._confirmations.bead(by)

    @property
    def open_record(self) -> OpenRecord | None:
        """The joint that is open, None where none is."""
        return self._current

    async def claim_joint(self, command: ClaimCommand) -> Accepted:
        """Name an unnamed joint of the record. Raises StoreError when it has a name or is not there."""
        claim = claim_of(command, self._clock)
        attempt = await asyncio.to_thread(self._writer.claim_joint, command.joint_uuid, claim)
        return Accepted(joint_uuid=command.joint_uuid, attempt=attempt)

    async def settled(self, patience_s: float = STOP_PATIENCE_S) -> None:
        """Return when no opening or closing is under way, or when the store has not managed for so long."""
        deadline = asyncio.get_running_loop().time() + patience_s
        while self._tasks and asyncio.get_running_loop().time() < deadline:
            await asyncio.wait(self._tasks, timeout=patience_s)

    def alarm(self, code: str, parameters: Parameters) -> None:
        """Raise an alarm that stays in the state until the recorder stops; worded as an event is."""
        text = event_text(code, parameters)
        _log.error("%s: %s", code, text)
        self._alarms.append(AlarmMessage(code=code, text=text, parameters=dict(parameters)))
        self._log_book.add(0.0, code, parameters)
        self._note(EventKind.HEALTH, code, 0, {"text": text})

    async def resume(self, cut: Found) -> None:
        """Take up a joint that a stop of the recorder cut in two: the gap is in its record, and its curve."""
        record = resumed(cut, self._installation.rig, replayed=self._bench.is_replay)
        self._current = record
        now_ms = self._clock.stamp().mono_ms - record.epoch_ms
        last_s = (cut.joint.last_t_ms or 0) / 1000
        self._note(EventKind.GAP, "recorder_stopped", now_ms, {"from_s": last_s})
        self._log_book.add(now_ms / 1000, "joint.resumed", {"joint": record.number or ""})
        if record.session.is_over:
            record.session = replace(record.session, is_over=False)
            self.command(Finish(reason="released before the recorder stopped"))

    def state(self, since_seq: int = 0) -> StateMessage:
        """The recorder now, with the events numbered above `since_seq`."""
        current = self._current
        mono_s = self._clock.mono_s()
        return state_message(
            Now(
                rig=self._installation.rig,
                time_scale=self._clock.time_scale,
                current=current,
                session=current.session if current else self._watch.session,
                now_s=self.now_s(),
                pressure_age_s=self._pressure_age_s(),
                channels=self._board.messages(mono_s),
                store=self._writer.health(),
                events=self._log_book.since(since_seq),
                alarms=tuple(self._alarms),
                last=self._last,
                by_hand_before=self._by_hand.before(current.session, mono_s) if current else (),
                today=self._clock.utc().date().isoformat(),
            )
        )

    def _pressure_age_s(self) -> float | None:
        return None if self._pressure_mono_s is None else self._clock.mono_s() - self._pressure_mono_s

    def now_s(self) -> float:
        """Now on the clock of the open joint, or of the watch.

        It goes on from the last sample, so that a replay keeps the times of its file.
        """
        current = self._current
        tracked = (current.session if current else self._watch.session).tracked
        if not tracked.recent and current is not None:
            return max(0.0, self._clock.mono_s() - current.opened_mono_ms / 1000)
        return tracked.now_s + (self._pressure_age_s() or 0.0)

    def _begin(self, planned: PlannedJoint | None, from_ms: int | None = None) -> OpenRecord:
        now_ms = self._clock.stamp().mono_ms if from_ms is None else from_ms
        self._current = new_record(planned, self._bench, now_ms, self._plate)
        return self._current

    def _header(self, record: OpenRecord) -> JointHeader:
        return header_of(
            record.planned, self._bench, joint_uuid=record.uuid, opened_mono_ms=record.opened_mono_ms
        )

    def _say_opened(self, record: OpenRecord) -> None:
        parameters: dict[str, str | float] = {"joint": record.number or "", "attempt": record.attempt or 1}
        self._log_book.add(0.0, "joint.opened", parameters)

    def _open_unnamed(self) -> None:
        rows = self._watch.taken()
        record = self._begin(None, from_ms=rows[0].t_ms)
        header = self._header(record)
        self._spawn(self._admit_unnamed(record, header))
        for raw in rows:
            self.on_sample(raw)

    async def _admit_unnamed(self, record: OpenRecord, header: JointHeader) -> None:
        await admit_in_the_end(record, header, self._writer)
        self._say_opened(record)

    def _note(self, kind: EventKind, code: str, t_ms: int, parameters: Mapping[str, str | float]) -> None:
        event = RecordEvent(kind=kind, code=code, at=self._clock.stamp(), t_ms=t_ms, parameters=parameters)
        if self._current is not None:
            self._current.note(self._writer, event)
        else:
            self._writer.append_event(None, event)

    def command(self, command: Command) -> None:
        """Advance the open joint by a command; nothing happens where none is open."""
        current = self._current
        if current is None:
            return
        current.session, events = advance(current.session, command)
        self._tell(current, events)

    def _tell(self, record: OpenRecord, events: tuple[Event, ...]) -> None:
        for event in events:
            if isinstance(event, JointEnded):
                self._by_hand.keep(record.session, self.now_s(), self._clock.mono_s())
                self._current = None
                self._watch.forget()
                self._spawn(self._seal(record, event))
                continue
            told = tidings_of(event)
            self._log_book.add(told.at_s, told.code, told.parameters)
            self._note(told.kind, told.record_code, round(told.at_s * 1000), told.parameters)

    async def _seal(self, record: OpenRecord, event: JointEnded) -> None:
        while not record.is_open:
            await asyncio.sleep(0.05)
        verdict = event.judgement.verdict
        try:
            await asyncio.to_thread(seal, self._writer, record.uuid, event, self._clock.stamp())
        except StoreError as error:
            # The samples are on disk as far as they could be; the joint stays open there and is closed as
            # interrupted at the next start.
            _log.exception("joint %s could not be sealed", record.number)
            self._log_book.add(record.session.tracked.now_s, "store.failed", {"text": str(error)})
        else:
            self._last = (record.number, record.uuid, verdict)
            self._log_book.add(record.session.tracked.now_s, "joint.ended", end_parameters(event))

    def _spawn(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._done)

    def _done(self, task: asyncio.Task[None]) -> None:
        self._tasks.discard(task)
        if not task.cancelled() and task.exception() is not None:
            _log.error("a joint could not be opened or closed", exc_info=task.exception())
