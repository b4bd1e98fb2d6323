"""What the system keeps from this user: whose it is, and how to reach it all the same."""

import grp
import os
import pwd
import shlex
import stat
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from logger.errors import BeadwatchError, StoreError

_GROUP_WRITES = stat.S_IRGRP | stat.S_IWGRP


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """The file or folder at which the way ends: names of its owner and group, and its permission bits."""

    path: str
    owner: str
    group: str
    mode: int
    is_folder: bool = False


def barred_text(what: str, bar: Bar, me: str, words: Sequence[str]) -> str:
    """One line: whose it is, and what to do. `words` are those of the command that was given."""
    if bar.owner == me:
        needed = "u+rwx" if bar.is_folder else "u+rw"
        return f"{what}: {bar.path} is yours, but its mode {bar.mode:04o} bars you: chmod {needed} {bar.path}"
    again = shlex.join(["sudo", "-u", bar.owner, "beadwatch", *words])
    way = f"run it as that user: {again}"
    if not bar.is_folder and bar.mode & _GROUP_WRITES == _GROUP_WRITES:
        way += f", or be made a member of the group {bar.group}"
    lies = "lies in a folder that belongs" if bar.is_folder else "belongs"
    return f"{what} {lies} to the user {bar.owner}, and {me} may not reach it; {way}"


def barred(what: str, path: Path) -> str:
    """Look where the way to `path` ends, and say it of `what`."""
    return barred_text(what, _bar_of(path), _user_name(os.geteuid()), sys.argv[1:])


def barred_record_text(error: BeadwatchError) -> str | None:
    """Say of a record that could not be opened whose it is; None where something else was wrong."""
    cause = error.__cause__
    if not isinstance(error, StoreError) or not isinstance(cause, PermissionError) or not cause.filename:
        return None
    return barred(f"the record {cause.filename}", Path(cause.filename))


def is_barred(path: Path) -> bool:
    """Tell whether it is there, as far as can be seen, and may not be read."""
    try:
        path.stat()
    except PermissionError:
        return True
    except OSError:
        return False
    return not os.access(path, os.R_OK)


def _bar_of(path: Path) -> Bar:
    """The thing itself where it can be looked at, else the nearest folder above it that can."""
    found = path
    while found != found.parent:
        try:
            seen = found.stat()
        except OSError:
            found = found.parent
            continue
        return Bar(
            path=str(found),
            owner=_user_name(seen.st_uid),
            group=_group_name(seen.st_gid),
            mode=stat.S_IMODE(seen.st_mode),
            is_folder=stat.S_ISDIR(seen.st_mode),
        )
    return Bar(path=str(found), owner="root", group="root", mode=0o755, is_folder=True)


def _user_name(number: int) -> str:
    try:
        return pwd.getpwuid(number).pw_name
    except KeyError:
        return f"#{number}"  # As sudo takes a number.


def _group_name(number: int) -> str:
    try:
        return grp.getgrgid(number).gr_name
    except KeyError:
        return f"#{number}"
