"""How something said gets into the record: about the open joint, or about one that has ended."""

import asyncio
from collections.abc import Mapping
from typing import Any

from logger.api.faults import FieldsError
from logger.config.quantity import Kind, parse_difference, parse_quantity
from logger.daemon.archive import Archive
from logger.daemon.clock import MachineClock
from logger.daemon.open_record import OpenRecord
from logger.daemon.recorder import Recorder
from logger.domain.phase import Phase
from logger.domain.record import JointRecord, Statement
from logger.errors import DeviceError
from logger.store.writer import Writer
from logger.wire.desk import Said
from logger.wire.live import FieldError, StateMessage

QUIET = (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP)
"""Hands may be between the ends: nothing is asked and nothing is taken."""


class Sayings:
    """Appends statements. Raises DeviceError where there is no joint for it, StoreError when not stored."""

    def __init__(self, recorder: Recorder, archive: Archive, writer: Writer, clock: MachineClock) -> None:
        self._recorder = recorder
        self._archive = archive
        self._writer = writer
        self._clock = clock

    def open_record(self) -> OpenRecord:
        """Return the open joint, unless it is in the quiet stretch from the end of the soak to cooling."""
        record = self._recorder.open_record
        if record is None:
            raise DeviceError("no joint is open")
        if is_quiet(self._recorder.state()):
            raise DeviceError("not between the end of the soak and cooling; say it afterwards")
        return record

    async def ended(self, joint_uuid: str) -> JointRecord:
        """Return a joint that has ended. Raises InputError when it is not in the record."""
        record = await self._archive.record(joint_uuid)
        if record.end is None:
            raise DeviceError(f"joint {record.number or joint_uuid} is still open")
        return record

    async def of_open(self, kind: str, author: str, body: Mapping[str, Any], *, reason: str = "") -> Said:
        record = self.open_record()
        at_s = self._recorder.now_s()
        return await self.of(record.uuid, kind, author, body, reason=reason, at_s=at_s)

    def is_of_open(self, joint_uuid: str) -> bool:
        """Whether this id means the open joint; the empty one always does."""
        record = self._recorder.open_record
        return not joint_uuid or (record is not None and record.uuid == joint_uuid)

    async def about(self, joint_uuid: str, kind: str, author: str, body: Mapping[str, Any]) -> Said:
        """Append one statement about the open joint, or about another one of the record."""
        if self.is_of_open(joint_uuid):
            return await self.of_open(kind, author, body)
        found = await self._archive.record(joint_uuid)
        return await self.of(found.header.uuid, kind, author, body)

    async def of(
        self,
        joint_uuid: str,
        kind: str,
        author: str,
        body: Mapping[str, Any],
        *,
        reason: str = "",
        at_s: float | None = None,
    ) -> Said:
        """Append one statement about a joint, whatever its state; `at_s` is on the joint's own clock."""
        statement = Statement(
            kind=kind,
            author=author,
            at=self._clock.stamp(),
            body=body,
            joint_uuid=joint_uuid,
            reason=reason,
            at_s=at_s,
        )
        seq = await asyncio.to_thread(self._writer.append_statement, statement)
        return Said(joint_uuid=joint_uuid, seq=seq)


def is_quiet(state: StateMessage) -> bool:
    """Whether the soak is done and cooling has not begun."""
    soaked = any(
        not limit.is_max and limit.remaining_s is not None and limit.remaining_s <= 0
        for limit in state.limits
    )
    return state.phase in QUIET or (state.phase == Phase.HEAT_SOAK and soaked)


def value_of(text: str, kind: Kind, field: str) -> float:
    """Read a quantity as typed. Raises FieldsError naming the field."""
    try:
        return parse_quantity(text, kind)
    except ValueError as error:
        raise wrong(field, str(error)) from None


def difference_of(text: str, kind: Kind, field: str) -> float:
    """Read an uncertainty as typed, more than nothing. Raises FieldsError naming the field."""
    try:
        difference = parse_difference(text, kind)
    except ValueError as error:
        raise wrong(field, str(error)) from None
    if difference <= 0:
        raise wrong(field, "an uncertainty is more than nothing")
    return difference


def wrong(field: str, message: str, nearest: tuple[str, ...] = ()) -> FieldsError:
    return FieldsError((FieldError(field=field, message=message, nearest=nearest),))
