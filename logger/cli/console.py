"""stdout is data, stderr is narration."""

import sys
from collections.abc import Iterable


def out(lines: Iterable[str]) -> None:
    """Print data."""
    for line in lines:
        print(line)


def out_text(text: str) -> None:
    """Print data that carries its own line ends, byte for byte."""
    sys.stdout.write(text)
    sys.stdout.flush()


def say(line: str) -> None:
    """Tell the person at the terminal something."""
    print(line, file=sys.stderr, flush=True)
