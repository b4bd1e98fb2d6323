"""Where the record and the socket are, unless a command says otherwise (XDG base directories)."""

import os
import tempfile
from pathlib import Path


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
