"""`beadwatch joints import`, `backup` and `restore`: records that change their place."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.cli.places import default_store
from logger.cli.seals import fingerprint_of, sealed_texts
from logger.daemon.clock import MachineClock
from logger.domain.seal import Verification
from logger.errors import StoreError
from logger.store.backup import backup as back_up
from logger.store.backup import restore as put_back
from logger.store.sealed import SealedJoint, verify_sealed
from logger.store.writer import Writer
from logger.wording.verification_text import fault_text

StoreOption = Annotated[Path | None, typer.Option(help="The record.")]
KeyOption = Annotated[list[str] | None, typer.Option(help="Fingerprint of a key that may sign.")]


def import_joints(
    files: Annotated[list[Path], typer.Argument(metavar="BUNDLE...", help="Bundles or sealed joints.")],
    key: KeyOption = None,
    store: StoreOption = None,
) -> None:
    """Take over sealed joints of other records: verified first, with their origin and their own seals."""
    trusted = [fingerprint_of(text) for text in key or []]
    refused: list[str] = []
    waiting = dict(_verified(files, trusted, refused))
    clock = MachineClock()
    with closing(Writer(store or default_store(), at=clock.stamp())) as writer:
        while waiting:
            reasons = {}
            for name, joint in waiting.items():
                try:
                    count = writer.import_joint(joint, clock.stamp())
                except StoreError as err:
                    reasons[name] = str(err)
                else:
                    out(
                        [f"{name}: " + (f"joint {joint.uuid}, {count} new links" if count else "nothing new")]
                    )
            if len(reasons) == len(waiting):
                refused += [f"{name}: {reason}" for name, reason in reasons.items()]
                break
            # A joint may have waited for the attempt before it.
            waiting = {name: waiting[name] for name in reasons}
    if refused:
        raise StoreError("not imported:\n" + "\n".join(f"  {line}" for line in refused))


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


def _verified(files: list[Path], trusted: list[str], refused: list[str]) -> Iterator[tuple[str, SealedJoint]]:
    """Yield the joints without fault by name; what is wrong with the others goes into `refused`."""
    for file in files:
        for name, text in sealed_texts(file):
            found = verify_sealed(text, trusted=trusted)
            if found.is_good:
                yield name, SealedJoint.read(text)
            else:
                refused.append(f"{name}: {fault_text(found.faults[0])}")


def _tell(found: Verification, path: Path) -> None:
    out([str(path)])
    state = "verified" if found.is_good else "NOT PROVEN"
    say(f"joints: {found.joint_count}, links: {found.link_count}, {state}")
    if found.faults:
        # The copy stays: it is what there is, and a damaged record is worth more than none.
        raise StoreError(f"{path}: {len(found.faults)} faults, first: {fault_text(found.faults[0])}")
