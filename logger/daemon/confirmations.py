"""What a person confirms of the open joint: its drag, its bead. Stored first, then followed."""

import asyncio
from dataclasses import replace

from logger.daemon.clock import MachineClock
from logger.daemon.joint_files import planned_again
from logger.daemon.open_record import OpenRecord
from logger.daemon.recorder import Recorder
from logger.daemon.statements import bead_statement, drag_statement
from logger.domain.record import Statement
from logger.errors import DeviceError
from logger.session.commands import why_no_bead, why_no_drag
from logger.session.state import ConfirmBead, ConfirmDrag
from logger.store.writer import Writer
from logger.wire.desk import Said
from logger.wording.events import REFUSALS


class Confirmations:
    """Raises DeviceError where no open joint can take it, StoreError when it could not be stored."""

    def __init__(self, recorder: Recorder, writer: Writer, clock: MachineClock) -> None:
        self._recorder = recorder
        self._writer = writer
        self._clock = clock

    async def drag(self, pressure_bar: float, by: str) -> Said:
        """Take the drag, gauge bar: plan and judgement follow it. Raises InputError, ProcedureRefusal too."""
        current = self._open("a drag")
        _refuse(why_no_drag(current.session))
        rig = current.session.setting.rig
        planned = planned_again(current.planned, pressure_bar, rig)
        offered = current.session.strokes.counts
        offered_bar = offered.pressure_bar if offered else None
        said = drag_statement(pressure_bar, offered_bar, planned.plan, by=by, at=self._clock.stamp())
        kept = await self._keep(current, said)
        current.planned = planned
        self._recorder.command(
            ConfirmDrag(pressure_bar=pressure_bar, by=by, at_s=kept.at_s or 0.0, plan=planned.plan)
        )
        return Said(joint_uuid=current.uuid, seq=kept.seq)

    async def bead(self, by: str) -> Said:
        """Take it that the bead stands all round, both sides."""
        current = self._open("a bead")
        _refuse("bead_confirmed" if current.session.bead else why_no_bead(current.session))
        kept = await self._keep(current, bead_statement(by=by, at=self._clock.stamp()))
        self._recorder.command(ConfirmBead(by=by, at_s=kept.at_s or 0.0))
        return Said(joint_uuid=current.uuid, seq=kept.seq)

    def _open(self, what: str) -> OpenRecord:
        current = self._recorder.open_record
        if current is None:
            raise DeviceError(f"no joint is open that {what} could be confirmed for")
        return current

    async def _keep(self, current: OpenRecord, said: Statement) -> Statement:
        """Store it with the time on the joint's clock."""
        stated = replace(said, joint_uuid=current.uuid, at_s=self._recorder.now_s())
        seq = await asyncio.to_thread(self._writer.append_statement, stated)
        if self._recorder.open_record is not current:
            raise DeviceError("the joint has ended meanwhile; what was said stands in its record")
        return replace(stated, seq=seq)


def _refuse(code: str) -> None:
    if code:
        raise DeviceError(REFUSALS[code])
