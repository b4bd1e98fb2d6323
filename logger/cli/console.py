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


def ask(text: str) -> str:
    """Ask the person at the terminal on stderr; return the answer. Raises EOFError at the end of input.

    A library's prompt would leave a blank of its own on stdout, where data stands.
    """
    print(f"{text}: ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if not answer:
        raise EOFError
    return answer.strip()
