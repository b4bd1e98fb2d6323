"""Where a company keeps procedure files of its own."""

import os
from pathlib import Path


def procedure_folders() -> tuple[Path, ...]:
    """The folders that exist, in order.

    `$BEADWATCH_PROCEDURES` (folders separated as in PATH) replaces the usual places, which are
    `$XDG_CONFIG_HOME/beadwatch/procedures` (by default under `~/.config`) and `/etc/beadwatch/procedures`.
    """
    named = os.environ.get("BEADWATCH_PROCEDURES")
    if named:
        return tuple(Path(folder) for folder in named.split(os.pathsep) if folder)
    config = os.environ.get("XDG_CONFIG_HOME")
    own = (Path(config) if config else Path.home() / ".config") / "beadwatch" / "procedures"
    # Not Path.is_dir: it raises where a sandboxed service may not look into the home of its user.
    return tuple(folder for folder in (own, Path("/etc/beadwatch/procedures")) if os.path.isdir(folder))
