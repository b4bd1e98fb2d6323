"""What is put on record afterwards, through the running recorder."""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from logger.daemon.afterwards import Afterwards
from logger.daemon.archive import Archive
from logger.daemon.clock import MachineClock
from logger.daemon.recorder import Recorder
from logger.daemon.sayings import Sayings
from logger.store.writer import Writer
from logger.wire.afterwards import (
    AttachmentCommand,
    Confirmed,
    CorrectionCommand,
    FiguresCommand,
    ImportCommand,
    Imported,
    KeyRenewalCommand,
    OpinionCommand,
    RecordMessage,
    RenewedKey,
)
from logger.wire.desk import Said

Command = TypeVar("Command", AttachmentCommand, CorrectionCommand, OpinionCommand)


class RecordDesk:
    """The same steps as without a recorder, by its writer and on a thread: no sample waits for them."""

    def __init__(
        self, recorder: Recorder, archive: Archive, writer: Writer, store: Path, clock: MachineClock
    ) -> None:
        self._sayings = Sayings(recorder, archive, writer, clock)
        self._store = store
        self._afterwards = Afterwards(writer, store, clock)

    async def which(self) -> RecordMessage:
        return RecordMessage(store=str(self._store.resolve()))

    async def correct(self, command: CorrectionCommand) -> Said:
        return await self._said(self._afterwards.correct, command)

    async def attach(self, command: AttachmentCommand) -> Said:
        return await self._said(self._afterwards.attach, command)

    async def opine(self, command: OpinionCommand) -> Said:
        return await self._said(self._afterwards.opine, command)

    async def take_over(self, command: ImportCommand) -> Imported:
        return await asyncio.to_thread(self._afterwards.take_over, command)

    async def confirm_figures(self, command: FiguresCommand) -> Confirmed:
        return await asyncio.to_thread(self._afterwards.confirm_figures, command)

    async def renew_key(self, command: KeyRenewalCommand) -> RenewedKey:
        return await asyncio.to_thread(self._afterwards.renew_key, command)

    async def _said(self, act: Callable[[Command], Said], command: Command) -> Said:
        if self._sayings.is_of_open(command.joint_uuid):
            self._sayings.open_record()
        return await asyncio.to_thread(act, command)
