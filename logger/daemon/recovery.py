"""Joints that were open when the recorder stopped: taken up again, or closed as interrupted."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.daemon.clock import MachineClock, boot_id
from logger.daemon.joint_files import resumed_plan, setting_of
from logger.daemon.open_record import OpenRecord
from logger.daemon.statements import BEAD, latest
from logger.domain.event import JointEnded
from logger.domain.record import (
    EmittedJudgement,
    HowEnded,
    JointEnd,
    JointRecord,
    OpenJoint,
    Stamp,
    Statement,
)
from logger.domain.rig import Rig
from logger.domain.sample import RawSample
from logger.domain.scale import Scaler, samples_of
from logger.errors import StoreError
from logger.session.advance import advance, run_through
from logger.session.state import ConfirmBead, Finish, SessionState
from logger.store.reader import Reader
from logger.store.writer import Writer
from logger.wire.judgement import to_json

_log = logging.getLogger(__name__)

RESUME_WITHIN_S = 600.0
"""A joint whose recorder was away for longer is closed as interrupted."""


@dataclass(frozen=True, slots=True)
class Found:
    """A joint without an end, with its samples on disk and what was said of it."""

    joint: OpenJoint
    samples: list[RawSample]
    statements: list[Statement]


def open_joints(reader: Reader) -> tuple[list[Found], list[dict[str, str]]]:
    """The joints without an end; those that cannot be read stay as they are: an alarm's parameters each."""
    found, unreadable = [], []
    for joint in reader.open_joints():
        joint_uuid = joint.record.header.uuid
        try:
            found.append(Found(joint, reader.samples(joint_uuid), reader.statements_of(joint_uuid)))
        except StoreError as error:
            unreadable.append({"joint": joint.record.number or joint_uuid, "error": str(error)})
    return found, unreadable


def may_resume(found: Found, clock: MachineClock) -> bool:
    """Same boot, same clock, and away for under ten minutes."""
    header, samples = found.joint.record.header, found.samples
    if header.boot_id != boot_id() or header.time_scale != clock.time_scale:
        return False
    last_ms = header.opened.mono_ms + (samples[-1].t_ms if samples else 0)
    return 0 <= clock.mono_s() - last_ms / 1000 < RESUME_WITHIN_S


def session_of(
    record: JointRecord, samples: list[RawSample], statements: Sequence[Statement] = ()
) -> SessionState:
    """Run a joint through the samples that are on disk, as if they came in now, with what was said of it."""
    setting = setting_of(record, statements)
    rig = setting.rig
    session, _ = run_through(setting, samples_of(samples, rig) if rig else [])
    bead = latest(BEAD, statements)
    if bead is not None and bead.at_s is not None:
        session, _ = advance(session, ConfirmBead(by=bead.author, at_s=bead.at_s))
    return session


def resumed(cut: Found, rig: Rig, *, replayed: bool) -> OpenRecord:
    """Take up a joint that a stop of the recorder cut in two; a replay keeps the clock of its file."""
    found = cut.joint
    header = found.record.header
    session = session_of(found.record, cut.samples, cut.statements)
    scaler = Scaler(rig)
    for raw in cut.samples:
        scaler.read(raw)
    return OpenRecord(
        uuid=header.uuid,
        number=found.record.number,
        attempt=found.record.attempt,
        epoch_ms=0 if replayed else header.opened.mono_ms,
        opened_mono_ms=header.opened.mono_ms,
        session=session,
        scaler=scaler,
        planned=resumed_plan(found.record, session.setting.plan, rig),
        is_open=True,
    )


def interrupt(writer: Writer, found: Found, reason: str, clock: MachineClock) -> None:
    """Close a joint that cannot go on; it is judged as far as it was recorded. Raises StoreError."""
    joint = found.joint
    session = session_of(joint.record, found.samples, found.statements)
    _, events = advance(replace(session, is_over=False), Finish(how="interrupted", reason=reason))
    for event in events:
        if isinstance(event, JointEnded):
            seal(writer, joint.record.header.uuid, event, clock.stamp())


def seal(writer: Writer, joint_uuid: str, event: JointEnded, at: Stamp) -> None:
    """Close a joint in the record with its judgement. Raises StoreError; then it stays open there.

    A judgement that cannot be written is a defect; the samples are sealed without it and can be judged again.
    """
    end = JointEnd(how=HowEnded(event.how), reason=event.reason, at=at)
    judged: EmittedJudgement | None = None
    try:
        judged = EmittedJudgement(judgement=event.judgement, text=to_json(event.judgement))
    except ValueError:
        _log.exception("joint %s is sealed without a judgement", joint_uuid)
    writer.close_joint(joint_uuid, end, judged)
