"""`beadwatch key`: the keys that seal a record, their fingerprints for the commissioning sheet."""

from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text, say
from logger.cli.hand import hand_of
from logger.cli.live import SocketOption
from logger.cli.places import default_store
from logger.errors import StoreError
from logger.store.keys import Keys, KeyUse, fingerprint_of, folder_of, public_pem
from logger.wire.afterwards import KeyRenewalCommand
from logger.wire.model import command_of
from logger.wording.verification_text import fingerprint_text

app = typer.Typer(name="key", help="The keys that seal the record.", no_args_is_help=True)

StoreOption = Annotated[Path | None, typer.Option(help="The record.", readable=False)]


@app.command()
def init(store: StoreOption = None) -> None:
    """Make the keys; the first `beadwatch run` does it too. Nothing happens where they are there."""
    path = store or default_store()
    keys = Keys.beside(path)
    say(
        f"keys in {folder_of(path)}, readable by their owner alone; write the fingerprints on the rig's paper"
    )
    out(_fingerprints(keys))


@app.command()
def show(store: StoreOption = None) -> None:
    """Print the fingerprints: the one of live joints and the one of demonstrations."""
    out(_fingerprints(_existing(store)))


@app.command()
def renew(
    by: Annotated[str, typer.Option(help="Who renews it.")],
    reason: Annotated[str, typer.Option(help="Why.")],
    use: Annotated[KeyUse, typer.Option(help="Which of the two.")] = KeyUse.LIVE,
    store: StoreOption = None,
    socket: SocketOption = None,
) -> None:
    """Make a new key, named in the chain by the one it replaces, which is deleted.

    Verifiers that were given the old fingerprint follow it. It does not help where somebody else has the old
    key: he can name a successor too, and only heads published before tell which.
    """
    _existing(store)
    command = command_of(KeyRenewalCommand, use=use.value, by=by, reason=reason)
    with hand_of(store, socket) as hand:
        done = hand.renew_key(command)
    say("add the new fingerprint to the rig's paper, beside the old one, with the date")
    out([f"{done.use:13s} {fingerprint_text(done.fingerprint)}"])


@app.command()
def export(
    use: Annotated[KeyUse, typer.Option(help="Which of the two.")] = KeyUse.LIVE, store: StoreOption = None
) -> None:
    """Print a public key as PEM; the private one is never printed."""
    out_text(public_pem(_existing(store).public(use)))


def _existing(store: Path | None) -> Keys:
    path = store or default_store()
    if not folder_of(path).is_dir():
        raise StoreError(f"{folder_of(path)}: no keys yet; beadwatch key init makes them")
    return Keys.beside(path)


def _fingerprints(keys: Keys) -> list[str]:
    return [f"{use:13s} {fingerprint_text(fingerprint_of(keys.public(use)))}" for use in KeyUse]
