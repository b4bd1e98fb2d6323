"""Where the keys of a TOML file stand: so that an error can name the line."""

import re
from collections import Counter

Place = tuple[str | int, ...]
"""A key by its tables; the entries of an array of tables count from 1, e.g. `("fault", 2, "kind")`."""

_HEADER = re.compile(r"^\s*(\[\[?)\s*([\w\-.]+)\s*\]\]?\s*(?:#.*)?$")
_INLINE_KEY = re.compile(r"[{,]\s*([\w\-]+)\s*=")
_KEY = re.compile(r"^\s*([\w\-]+(?:\s*\.\s*[\w\-]+)*)\s*=")


def lines_of_keys(text: str) -> dict[Place, int]:
    """Line number, from 1, of every table and of every key, in tables written inline too."""
    found: dict[Place, int] = {}
    entries: Counter[Place] = Counter()
    table: Place = ()
    for number, line in enumerate(text.splitlines(), start=1):
        header, key = _HEADER.match(line), _KEY.match(line)
        if header:
            table = _parts(header.group(2))
            if header.group(1) == "[[":
                entries[table] += 1
                table = (*table, entries[table])
            found.setdefault(table, number)
        elif key:
            place = (*table, *_parts(key.group(1)))
            inside = [(*place, inner) for inner in _INLINE_KEY.findall(line[key.end() :])]
            found |= dict.fromkeys([place, *inside], number)
    return found


def _parts(dotted: str) -> Place:
    return tuple(part.strip() for part in dotted.split("."))
