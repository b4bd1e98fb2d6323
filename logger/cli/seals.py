"""`beadwatch joints verify` and `beadwatch joints head`: is the record what was recorded."""

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.places import default_store
from logger.domain.seal import ChainHead, Fault, Verification
from logger.errors import InputError, StoreError
from logger.export.qr_text import qr_lines
from logger.store.attachments import check_attachments
from logger.store.reader import Reader
from logger.store.sealed import SEALED_SUFFIX, heads_in, verify_sealed
from logger.store.verify import verify_record
from logger.wording.verification_text import verification_lines

StoreOption = Annotated[Path | None, typer.Option(help="The record.", readable=False)]


def verify(
    joints: Annotated[
        list[str] | None,
        typer.Argument(metavar="[JOINT|FILE]...", help="Numbers, ids, sealed joints, bundles."),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every joint and the whole chain.")] = False,
    head: Annotated[
        list[str] | None,
        typer.Option(help="A published head, or the text of a report's code; repeatable."),
    ] = None,
    key: Annotated[list[str] | None, typer.Option(help="Fingerprint of a key that may sign.")] = None,
    store: StoreOption = None,
) -> None:
    """Verify joints of the record or files of sealed joints; say what needs a key or a head to be found."""
    names = joints or []
    if not names and not everything:
        raise InputError("name a joint or a file, or ask for --all")
    papers = [_heads_of(text) for text in head or []]
    keys = [fingerprint_of(text) for text in key or []]
    found = Verification()
    texts = dict(pair for name in names if Path(name).is_file() for pair in sealed_texts(Path(name)))
    for text in texts.values():
        _add(found, verify_sealed(text, trusted=keys))
    numbers = [name for name in names if not Path(name).is_file()]
    held = {one for text in texts.values() for one in heads_in(text)}
    if numbers or everything:
        path = store or default_store()
        heads = [one for paper in papers for one in paper if str(one) not in held]
        with Reader(path) as reader:
            uuids = None if everything else [reader.joint(number).header.uuid for number in numbers]
        _add(found, verify_record(path, joints=uuids, trusted=keys, heads=heads))
        check_attachments(path, uuids, found)
    else:
        # A joint's own file holds its own links alone: one of those that a paper names has to be there.
        without = [paper for paper in papers if not held.intersection(map(str, paper))]
        found.faults += [Fault(code="head.missing", where=" ".join(map(str, paper))) for paper in without]
    out(verification_lines(found, has_keys=bool(keys), has_heads=bool(papers)))
    if not found.is_good:
        raise StoreError(f"{len(found.faults)} faults: not proven")


def head(
    store: StoreOption = None,
    qr: Annotated[bool, typer.Option("--qr", help="As a QR code too, to be photographed.")] = False,
) -> None:
    """Print the head of the chain: published, it witnesses all that was recorded until now."""
    with Reader(store or default_store()) as reader:
        latest = reader.chain_head()
    if latest is None:
        raise StoreError("the record has no seals yet")
    out([str(latest)])
    if qr:
        out(qr_lines(str(latest)))


def sealed_texts(path: Path) -> Iterator[tuple[str, str]]:
    """Yield name and text of the sealed joints in a file or bundle. Raises InputError when there are none."""
    try:
        if not zipfile.is_zipfile(path):
            yield str(path), path.read_bytes().decode("utf-8")
            return
        with zipfile.ZipFile(path) as bundle:
            names = [name for name in bundle.namelist() if name.endswith(SEALED_SUFFIX)]
            if not names:
                raise InputError(f"holds no sealed joint (*{SEALED_SUFFIX})", file=str(path))
            for name in names:
                yield f"{path}: {name}", bundle.read(name).decode("utf-8")
    except (OSError, UnicodeDecodeError, zipfile.BadZipFile, NotImplementedError, RuntimeError) as err:
        raise InputError(f"cannot be read: {err}", file=str(path)) from err


def _add(found: Verification, more: Verification) -> None:
    found.joint_count += more.joint_count
    found.link_count += more.link_count
    found.faults += more.faults
    found.notes += more.notes
    for key, uses in more.keys.items():
        found.keys.setdefault(key, set()).update(uses)


def _heads_of(text: str) -> tuple[ChainHead, ...]:
    try:
        return ChainHead.read_all(text)
    except ValueError as err:
        raise InputError(str(err), key="--head") from err


def fingerprint_of(text: str) -> str:
    """Read a fingerprint as people write it. Raises InputError."""
    plain = re.sub(r"[\s-]", "", text).lower()
    if not re.fullmatch(r"[0-9a-f]{32}", plain):
        raise InputError(f'"{text}" is no fingerprint: 32 hex digits, hyphens as you like', key="--key")
    return plain
