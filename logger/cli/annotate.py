"""`beadwatch joints correct` and `attach`: what is put on record afterwards, beside what stands there."""

import hashlib
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.places import default_store
from logger.daemon.clock import MachineClock
from logger.domain.record import Statement
from logger.errors import InputError
from logger.export.atomic import write_whole
from logger.store.reader import Reader
from logger.store.writer import Writer

JointArgument = Annotated[str, typer.Argument(metavar="JOINT", help="Joint number or id.")]
StoreOption = Annotated[Path | None, typer.Option(help="The record.")]
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
    attempt: AttemptOption = None,
) -> None:
    """Correct what was entered: appended with author, time and reason; what stood there stays readable."""
    path = store or default_store()
    uuid = _uuid_of(path, joint, attempt)
    _say(path, "correction", {"what": what, "value": value}, uuid=uuid, by=by, reason=reason)
    out([f"joint {joint}: {what} is {value}, says {by}"])


def attach(
    joint: JointArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A photograph or paper.")],
    by: ByOption,
    reason: ReasonOption = "",
    store: StoreOption = None,
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
    folder = path.with_name(f"{path.stem}.attachments")
    folder.mkdir(exist_ok=True)
    copy = folder / f"{digest[:16]}{file.suffix}"
    write_whole(copy, data)
    body: dict[str, str | int] = {"file": file.name, "copy": copy.name, "sha256": digest, "bytes": len(data)}
    _say(path, "attachment", body, uuid=uuid, by=by, reason=reason)
    out([str(copy)])


def _uuid_of(store: Path, joint: str, attempt: int | None) -> str:
    with Reader(store) as reader:
        return reader.joint(joint, attempt=attempt).header.uuid


def _say(
    store: Path, kind: str, body: dict[str, str] | dict[str, str | int], *, uuid: str, by: str, reason: str
) -> None:
    clock = MachineClock()
    with closing(Writer(store, at=clock.stamp())) as writer:
        writer.append_statement(
            Statement(kind=kind, author=by, reason=reason, at=clock.stamp(), joint_uuid=uuid, body=body)
        )
