"""The joint being recorded, and its way into the record, whether the store can take it at once or not."""

import asyncio
import logging
import uuid
from dataclasses import dataclass, field, replace

from logger.daemon.joint_files import Bench, PlannedJoint, setting_for
from logger.daemon.plate_watch import PlateWatch, plate_statement
from logger.domain.hand_reading import HandReading
from logger.domain.plate_known import PlateKnown
from logger.domain.record import JointHeader, RecordEvent
from logger.domain.sample import RawSample
from logger.domain.scale import Scaler
from logger.errors import StoreError
from logger.session.state import SessionState, opened
from logger.store.writer import Writer

_log = logging.getLogger(__name__)

RETRY_S = 1.0
"""Real seconds between two tries to open a joint that is already being made."""
AT_ONCE = 1000
"""Samples handed to the writer before it is waited for: what was kept is far more than fits into its room."""


@dataclass
class OpenRecord:
    """Where the joint's clock begins, and its state; what has no place on disk yet waits here, in order."""

    uuid: str
    number: str | None
    attempt: int | None
    epoch_ms: int
    opened_mono_ms: int
    session: SessionState
    scaler: Scaler
    """Of this joint from its first sample on, so that the stored joint is scaled alike."""
    planned: PlannedJoint | None = None
    samples: list[RawSample] = field(default_factory=list)
    events: list[RecordEvent] = field(default_factory=list)
    is_open: bool = False
    """False until the writer has the header and all that waited."""
    waits_for: str = ""
    """Why the store could not take the joint so far."""

    def shifted(self, raw: RawSample) -> RawSample:
        """A poll on this joint's own clock."""
        return RawSample(
            t_ms=raw.t_ms - self.epoch_ms, half_width_ms=raw.half_width_ms, readings=raw.readings
        )

    def unshifted(self, raw: RawSample) -> RawSample:
        return RawSample(
            t_ms=raw.t_ms + self.epoch_ms, half_width_ms=raw.half_width_ms, readings=raw.readings
        )

    def keep(self, writer: Writer, raw: RawSample) -> None:
        if self.is_open:
            writer.append(self.uuid, raw)
        else:
            self.samples.append(raw)

    def take_hand_readings(self, readings: tuple[HandReading, ...]) -> None:
        """Judge by these readings of the plate, all that were said so far."""
        known = replace(self.session.setting.plate_known, hand_readings=readings)
        setting = replace(self.session.setting, plate_known=known)
        self.session = replace(self.session, setting=setting)

    def note(self, writer: Writer, event: RecordEvent) -> None:
        if self.is_open:
            writer.append_event(self.uuid, event)
        else:
            self.events.append(event)


def new_record(planned: PlannedJoint | None, bench: Bench, mono_ms: int, plate: PlateWatch) -> OpenRecord:
    """A joint that begins at this time of the monotonic clock; it is not in the record yet."""
    epoch_ms = 0 if bench.is_replay else mono_ms
    before = plate.before(planned.plan if planned else None, epoch_ms / 1000)
    return OpenRecord(
        uuid=str(uuid.uuid4()),
        number=planned.joint.joint if planned else None,
        attempt=None,
        epoch_ms=epoch_ms,
        opened_mono_ms=mono_ms,
        session=opened(replace(setting_for(planned, bench), plate_known=PlateKnown(before=before))),
        scaler=Scaler(bench.installation.rig),
        planned=planned,
    )


async def admit(record: OpenRecord, header: JointHeader, writer: Writer) -> None:
    """Open the joint and hand over what has waited. Raises StoreError; nothing that waits is lost then."""
    record.attempt = await asyncio.to_thread(writer.open_joint, header)
    before = record.session.setting.plate_known.before
    if before is not None:
        said = plate_statement(before, record.uuid, header.opened)
        await asyncio.to_thread(writer.append_statement, said)
    while record.samples:
        part, record.samples = record.samples[:AT_ONCE], record.samples[AT_ONCE:]
        for raw in part:
            writer.append(record.uuid, raw)
        if record.samples:
            await asyncio.to_thread(writer.flush)
    record.is_open = True
    events, record.events = record.events, []
    for event in events:
        writer.append_event(record.uuid, event)


async def admit_in_the_end(record: OpenRecord, header: JointHeader, writer: Writer) -> None:
    """Open a joint that is being made already, however often the store has to be asked."""
    while True:
        try:
            await admit(record, header, writer)
        except StoreError as error:
            if not record.waits_for:
                _log.warning("joint %s waits in memory: %s", record.uuid, error)
            record.waits_for = str(error)
            await asyncio.sleep(RETRY_S)
        else:
            record.waits_for = ""
            return
