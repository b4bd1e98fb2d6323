"""`beadwatch joints correct` and `attach`: what is put on record afterwards, beside what stands there."""

import hashlib
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.hand import hand_of
from logger.cli.live import SocketOption
from logger.cli.places import default_store
from logger.errors import InputError
from logger.export.atomic import write_whole
from logger.store.attachments import folder_of
from logger.store.reader import Reader
from logger.wire.afterwards import AttachmentCommand, CorrectionCommand
from logger.wire.model import command_of

JointArgument = Annotated[str, typer.Argument(metavar="JOINT", help="Joint number or id.")]
StoreOption = Annotated[Path | None, typer.Option(help="The record.", readable=False)]
AttemptOption = Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")]
ByOption = Annotated[str, typer.Option(help="Who says so.")]
ReasonOption = Annotated[str, typer.Option(help="Why.")]


def correct(
    joint: JointArgument,
    what: Annotated[str, typer.Option(help="What is wrong: operator, place, pipe code, ...")],
    value: Annotated[str, typer.Option(help="What is right.")],
    by: ByOption,
    reason: ReasonOption,
    store: StoreOption = None,
    socket: SocketOption = None,
    attempt: AttemptOption = None,
) -> None:
    """Correct what was entered: appended with author, time and reason; what stood there stays readable."""
    path = store or default_store()
    uuid = _uuid_of(path, joint, attempt)
    command = command_of(CorrectionCommand, joint_uuid=uuid, what=what, value=value, by=by, reason=reason)
    with hand_of(path, socket) as hand:
        hand.correct(command)
    out([f"joint {joint}: {what} is {value}, says {by}"])


def attach(
    joint: JointArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A photograph or paper.")],
    by: ByOption,
    reason: ReasonOption = "",
    store: StoreOption = None,
    socket: SocketOption = None,
    attempt: AttemptOption = None,
) -> None:
    """Attach a file: a copy beside the record, its SHA-256 in the sealed record."""
    path = store or default_store()
    uuid = _uuid_of(path, joint, attempt)
    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputError(error.strerror or str(error), file=str(file)) from error
    digest = hashlib.sha256(data).hexdigest()
    folder = folder_of(path)
    folder.mkdir(exist_ok=True)
    copy = folder / f"{digest[:16]}{file.suffix}"
    write_whole(copy, data)
    command = command_of(
        AttachmentCommand,
        joint_uuid=uuid, file=file.name, copy_name=copy.name, sha256=digest, by=by, reason=reason,
    )  # fmt: skip
    with hand_of(path, socket) as hand:
        hand.attach(command)
    out([str(copy)])


def _uuid_of(store: Path, joint: str, attempt: int | None) -> str:
    with Reader(store) as reader:
        return reader.joint(joint, attempt=attempt).header.uuid
