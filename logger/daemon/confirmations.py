"""What a person confirms of the open joint: its drag, its bead. Stored first, then followed."""

import asyncio
from dataclasses import replace
from typing import Protocol

from logger.daemon.clock import MachineClock
from logger.daemon.joint_files import planned_again
from logger.daemon.open_record import OpenRecord
from logger.daemon.statements import bead_statement, drag_statement
from logger.domain.record import Statement
from logger.errors import DeviceError
from logger.session.commands import why_no_bead, why_no_drag
from logger.session.state import Command, ConfirmBead, ConfirmDrag
from logger.store.writer import Writer
from logger.wire.live import Accepted
from logger.wording.events import REFUSALS


class OpenJoint(Protocol):
    """The recorder, as far as it is needed here."""

    @property
    def open_record(self) -> OpenRecord | None: ...

    def now_s(self) -> float: ...

    def command(self, command: Command) -> None: ...


class Confirmations:
    """Raises DeviceError where no open joint can take it, StoreError when it could not be stored."""

    def __init__(self, recorder: OpenJoint, writer: Writer, clock: MachineClock) -> None:
        self._recorder = recorder
        self._writer = writer
        self._clock = clock

    async def drag(self, pressure_bar: float, by: str) -> Accepted:
        """Take the drag, gauge bar: plan and judgement follow it. Raises InputError, ProcedureRefusal too."""
        current = self._open("a drag")
        _refuse(why_no_drag(current.session))
        rig = current.session.setting.rig
        planned = planned_again(current.planned, pressure_bar, rig)
        offered = current.session.strokes.counts
        offered_bar = offered.pressure_bar if offered else None
        said = drag_statement(pressure_bar, offered_bar, planned.plan, by=by, at=self._clock.stamp())
        at_s = await self._keep(current, said)
        current.planned = planned
        self._recorder.command(ConfirmDrag(pressure_bar=pressure_bar, by=by, at_s=at_s, plan=planned.plan))
        return Accepted(joint_uuid=current.uuid, attempt=current.attempt)

    async def bead(self, by: str) -> Accepted:
        """Take it that the bead stands all round, both sides."""
        current = self._open("a bead")
        _refuse("bead_confirmed" if current.session.bead else why_no_bead(current.session))
        at_s = await self._keep(current, bead_statement(by=by, at=self._clock.stamp()))
        self._recorder.command(ConfirmBead(by=by, at_s=at_s))
        return Accepted(joint_uuid=current.uuid, attempt=current.attempt)

    def _open(self, what: str) -> OpenRecord:
        current = self._recorder.open_record
        if current is None:
            raise DeviceError(f"no joint is open that {what} could be confirmed for")
        return current

    async def _keep(self, current: OpenRecord, said: Statement) -> float:
        """Store it with the time on the joint's clock, and return that."""
        at_s = self._recorder.now_s()
        stated = replace(said, joint_uuid=current.uuid, at_s=at_s)
        await asyncio.to_thread(self._writer.append_statement, stated)
        if self._recorder.open_record is not current:
            raise DeviceError("the joint has ended meanwhile; what was said stands in its record")
        return at_s


def _refuse(code: str) -> None:
    if code:
        raise DeviceError(REFUSALS[code])
