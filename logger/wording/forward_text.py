"""How forwarding stands, in words."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from textwrap import shorten
from typing import Protocol

from logger.domain.forward_status import ForwardStatus
from logger.wording.forward_states import STATE_TEXTS

SHOWN_CHARACTERS = 160
"""Of what a server says; `--json` has all of it."""


class ParkedLike(Protocol):
    @property
    def line(self) -> str: ...

    @property
    def reason(self) -> str: ...

    @property
    def utc(self) -> str: ...


class ComparisonLike(Protocol):
    @property
    def expected(self) -> int: ...

    @property
    def missing(self) -> int: ...

    @property
    def extra(self) -> int: ...

    @property
    def different(self) -> int: ...


def status_lines(target: str, status: ForwardStatus | None, shown: Sequence[ParkedLike] = ()) -> list[str]:
    """State, reason and progress; then the parked lines that are asked for."""
    if status is None:
        return [f"{target}: the forwarder has not run yet"]
    reason = f" ({shorten(status.reason, SHOWN_CHARACTERS)})" if status.reason else ""
    oldest = f", the oldest of {status.oldest_utc}" if status.oldest_utc else ""
    lines = [
        f"{target}: {STATE_TEXTS[status.state]}{reason}, since {status.since_utc}; {status.backlog} samples "
        f"wait{oldest}; {status.sent} lines sent, {status.parked} put aside; told {status.utc}"
    ]
    return lines + [f"  {one.utc} {one.reason}: {one.line}" for one in shown]


def status_json(target: str, status: ForwardStatus | None) -> str:
    """The same as one JSON object."""
    document = {"target": target, "status": None if status is None else asdict(status)}
    return json.dumps(document, ensure_ascii=False) + "\n"


def comparison_text(joint: str, comparison: ComparisonLike) -> str:
    """One line for a joint compared point by point."""
    return (
        f"{joint}: {comparison.expected} points in the record; on the server {comparison.missing} missing, "
        f"{comparison.extra} extra, {comparison.different} different"
    )


def clock_text(ahead_s: float) -> str:
    """How this machine's clock differs from the server's; negative is behind."""
    side = "ahead of" if ahead_s > 0 else "behind"
    return f"{span_text(abs(ahead_s))} {side} the server's clock"


def ahead_text(ahead_s: float) -> str:
    """Why a line is not sent that lies so far in the server's future."""
    return f"{span_text(ahead_s)} ahead of the server's clock, which may drop it without a word"


def span_text(span_s: float) -> str:
    """A span in its largest whole unit."""
    for unit, size_s in (("d", 86_400.0), ("h", 3600.0), ("min", 60.0)):
        if span_s >= 2 * size_s:
            return f"{span_s / size_s:.0f} {unit}"
    return f"{span_s:.0f} s"
