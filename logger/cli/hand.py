"""The hand that writes into a record: the running recorder's where there is one, else a writer of our own."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Protocol

from logger.cli.link import BarredError, Link
from logger.cli.places import default_socket, default_store
from logger.daemon.afterwards import Afterwards
from logger.daemon.clock import MachineClock
from logger.errors import DeviceError
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
    RenewedKey,
)
from logger.wire.desk import Said
from logger.wire.live import Accepted, ClaimCommand


class Hand(Protocol):
    """Raises what the recorder refuses with, or StoreError; then nothing of it is stored."""

    def claim(self, command: ClaimCommand) -> Accepted: ...

    def correct(self, command: CorrectionCommand) -> Said: ...

    def attach(self, command: AttachmentCommand) -> Said: ...

    def opine(self, command: OpinionCommand) -> Said: ...

    def take_over(self, command: ImportCommand) -> Imported: ...

    def confirm_figures(self, command: FiguresCommand) -> Confirmed: ...

    def renew_key(self, command: KeyRenewalCommand) -> RenewedKey: ...


@contextmanager
def hand_of(store: Path | None, socket: Path | None = None) -> Iterator[Hand]:
    """Yield the one hand there is: a record has one writer at a time."""
    path = store or default_store()
    with closing(Link(socket or default_socket(), timeout_s=60.0)) as link:
        if _is_writer_of(link, path):
            yield link
            return
    clock = MachineClock()
    with closing(Writer(path, at=clock.stamp())) as writer:
        yield Afterwards(writer, path, clock)


def _is_writer_of(link: Link, store: Path) -> bool:
    """Whether the recorder that answers, if one does, writes this record and not another one.

    Raises BarredError where another user's recorder may be the writer.
    """
    try:
        return Path(link.which_record().store) == store.resolve()
    except BarredError:
        raise
    except DeviceError:
        return False
