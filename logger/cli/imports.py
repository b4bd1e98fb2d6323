"""`beadwatch joints import`, `backup` and `restore`: records that change their place."""

from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.cli.hand import hand_of
from logger.cli.live import SocketOption
from logger.cli.places import default_store
from logger.cli.seals import fingerprint_of, sealed_texts
from logger.domain.seal import Verification
from logger.errors import StoreError
from logger.store.backup import backup as back_up
from logger.store.backup import restore as put_back
from logger.wire.afterwards import ImportCommand
from logger.wording.verification_text import fault_text

StoreOption = Annotated[Path | None, typer.Option(help="The record.", readable=False)]
KeyOption = Annotated[list[str] | None, typer.Option(help="Fingerprint of a key that may sign.")]


def import_joints(
    files: Annotated[list[Path], typer.Argument(metavar="BUNDLE...", help="Bundles or sealed joints.")],
    key: KeyOption = None,
    store: StoreOption = None,
    socket: SocketOption = None,
) -> None:
    """Take over sealed joints of other records: verified first, with their origin and their own seals."""
    keys = tuple(fingerprint_of(text) for text in key or [])
    waiting = dict(pair for file in files for pair in sealed_texts(file))
    refused: dict[str, str] = {}
    with hand_of(store, socket) as hand:
        # A joint may have to wait for the attempt before it: while one is taken, the others are tried again.
        while waiting:
            refused = {}
            for name, text in waiting.items():
                try:
                    done = hand.take_over(ImportCommand(sealed=text, keys=keys))
                except StoreError as err:
                    refused[name] = str(err)
                else:
                    news = f"joint {done.joint_uuid}, {done.new_links} new links"
                    out([f"{name}: {news if done.new_links else 'nothing new'}"])
            if len(refused) == len(waiting):
                break
            waiting = {name: waiting[name] for name in refused}
    if refused:
        raise StoreError("not imported:\n" + "\n".join(f"  {name}: {why}" for name, why in refused.items()))


def backup(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="Where to; nothing is overwritten.")],
    store: StoreOption = None,
) -> None:
    """Copy the record into one file, also while it is recorded, and verify the copy. Keys stay behind."""
    _tell(back_up(store or default_store(), to), to)


def restore(
    copy: Annotated[Path, typer.Argument(metavar="FILE", help="A backup.")], store: StoreOption = None
) -> None:
    """Put a backup in the place of a record that is not there, and verify it."""
    path = store or default_store()
    _tell(put_back(copy, path), path)


def _tell(found: Verification, path: Path) -> None:
    out([str(path)])
    state = "verified" if found.is_good else "NOT PROVEN"
    say(f"joints: {found.joint_count}, links: {found.link_count}, {state}")
    if found.faults:
        # The copy stays: it is what there is, and a damaged record is worth more than none.
        raise StoreError(f"{path}: {len(found.faults)} faults, first: {fault_text(found.faults[0])}")
