"""How forwarding stands, in words."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Protocol


class StatusLike(Protocol):
    @property
    def state(self) -> str: ...

    @property
    def reason(self) -> str: ...

    @property
    def since_utc(self) -> str: ...

    @property
    def backlog(self) -> int: ...

    @property
    def utc(self) -> str: ...


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


def status_lines(
    target: str, status: StatusLike | None, shown: Sequence[ParkedLike], parked: int
) -> list[str]:
    """State, reason and backlog; then the parked lines that are asked for."""
    if status is None:
        return [f"{target}: the forwarder has not run yet"]
    reason = f" ({status.reason})" if status.reason else ""
    lines = [
        f"{target}: {status.state}{reason} since {status.since_utc}; "
        f"{status.backlog} samples wait, {parked} lines put aside; told {status.utc}"
    ]
    return lines + [f"  {one.utc} {one.reason}: {one.line}" for one in shown]


def status_json(target: str, status: StatusLike | None, parked: Sequence[ParkedLike]) -> str:
    """The same as one JSON object."""
    document = {
        "target": target,
        "status": None if status is None else asdict(status),  # type: ignore[call-overload]
        "parked": len(parked),
    }
    return json.dumps(document, ensure_ascii=False) + "\n"


def comparison_text(joint: str, comparison: ComparisonLike) -> str:
    """One line for a joint compared point by point."""
    return (
        f"{joint}: {comparison.expected} points in the record; on the server {comparison.missing} missing, "
        f"{comparison.extra} extra, {comparison.different} different"
    )
