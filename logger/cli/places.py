"""Where the record and the socket are, unless a command says otherwise (XDG base directories)."""

import os
import tempfile
from pathlib import Path

from logger.errors import InputError


def default_store() -> Path:
    """The record: `$XDG_STATE_HOME/beadwatch/record.db`, by default under `~/.local/state`."""
    state = os.environ.get("XDG_STATE_HOME")
    folder = Path(state) if state else Path.home() / ".local" / "state"
    return folder / "beadwatch" / "record.db"


def default_socket() -> Path:
    """The local socket: in the runtime directory, or a folder of the user's own where there is none."""
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    if runtime:
        return Path(runtime) / "beadwatch.sock"
    return Path(tempfile.gettempdir()) / f"beadwatch-{os.getuid()}" / "beadwatch.sock"


def default_rig() -> Path:
    """The rig file: `beadwatch/rig.toml` in `$XDG_CONFIG_HOME` (`~/.config`), else in `/etc`.

    Raises InputError naming the places where there is none.
    """
    config = os.environ.get("XDG_CONFIG_HOME")
    own = Path(config) if config else Path.home() / ".config"
    places = [folder / "beadwatch" / "rig.toml" for folder in (own, Path("/etc"))]
    # Not Path.is_file: it raises where a sandboxed service may not look into the home of its user.
    found = next((place for place in places if os.path.isfile(place)), None)
    if found is None:
        raise InputError(f"no rig file is named, and there is none at {' or '.join(map(str, places))}")
    return found
