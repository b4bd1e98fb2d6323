"""Which joints of the record are asked for."""

from dataclasses import dataclass
from enum import StrEnum


class JointOrder(StrEnum):
    """What a list is sorted by."""

    OPENED = "opened"
    NUMBER = "number"
    PROJECT = "project"
    OPERATOR = "operator"
    RIG = "rig"
    VERDICT = "verdict"


class JointGroup(StrEnum):
    """What joints are counted by."""

    PROJECT = "project"
    OPERATOR = "operator"
    RIG = "rig"
    PROCEDURE = "procedure"
    MATERIAL = "material"
    ORIGIN = "origin"
    MONTH = "month"


@dataclass(frozen=True, slots=True, kw_only=True)
class JointQuery:
    """Filters; empty means any.

    `verdict` is one of the curve's, or "open"; `text` is looked for in number, project, operator, rig,
    material, procedure and id. `finding` is a code or its beginning; `since` and `until` are
    dates or times in UTC (ISO 8601), `until` not included. Sorted by opening, the last come first.
    """

    project: str = ""
    operator: str = ""
    verdict: str = ""
    text: str = ""
    rig: str = ""
    material: str = ""
    outside_diameter_mm: float | None = None
    procedure: str = ""
    finding: str = ""
    origin: str = ""
    since: str = ""
    until: str = ""
    order: JointOrder = JointOrder.OPENED
    limit: int | None = 50
    """None is all of them."""
    offset: int = 0
