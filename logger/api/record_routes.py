"""What is put on record afterwards, for commands on the rig's own machine: on the local socket alone."""

from typing import Protocol

from fastapi import FastAPI

from logger.api.guard import LOCAL_ONLY
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


class RecordPort(Protocol):
    """The record as its writer holds it. Raises BeadwatchError; then nothing was done."""

    async def which(self) -> RecordMessage: ...

    async def correct(self, command: CorrectionCommand) -> Said: ...

    async def attach(self, command: AttachmentCommand) -> Said: ...

    async def opine(self, command: OpinionCommand) -> Said: ...

    async def take_over(self, command: ImportCommand) -> Imported: ...

    async def confirm_figures(self, command: FiguresCommand) -> Confirmed: ...

    async def renew_key(self, command: KeyRenewalCommand) -> RenewedKey: ...


def add_record(app: FastAPI, record: RecordPort) -> None:
    """Add the routes below `LOCAL_ONLY`, which are never answered over TCP."""

    @app.get(LOCAL_ONLY)
    async def which() -> RecordMessage:
        return await record.which()

    @app.post(f"{LOCAL_ONLY}/correction")
    async def correction(command: CorrectionCommand) -> Said:
        return await record.correct(command)

    @app.post(f"{LOCAL_ONLY}/attachment")
    async def attachment(command: AttachmentCommand) -> Said:
        return await record.attach(command)

    @app.post(f"{LOCAL_ONLY}/opinion")
    async def opinion(command: OpinionCommand) -> Said:
        return await record.opine(command)

    @app.post(f"{LOCAL_ONLY}/import")
    async def take_over(command: ImportCommand) -> Imported:
        return await record.take_over(command)

    @app.post(f"{LOCAL_ONLY}/key")
    async def renew_key(command: KeyRenewalCommand) -> RenewedKey:
        return await record.renew_key(command)

    @app.post(f"{LOCAL_ONLY}/figures")
    async def figures(command: FiguresCommand) -> Confirmed:
        return await record.confirm_figures(command)
