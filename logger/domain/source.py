"""Where a value comes from; the mark travels with the value into plan, record and report."""

from dataclasses import dataclass
from enum import StrEnum


class Mark(StrEnum):
    """How well a value is known."""

    SEEN = "seen"
    """Read in the named document or in a page restating it."""
    MEMORY = "from memory"
    """Remembered, not seen: to be checked against one's own copy."""
    PRACTICE = "common practice, no source"
    COMPUTED = "computed"
    """Follows from the other values by a formula named in the text."""
    GIVEN = "given"
    """Entered by the user for this joint or rig."""
    NOT_GIVEN = "not given"
    """The procedure leaves the value out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One line of provenance: document, edition, clause or table, and the mark."""

    mark: Mark
    text: str = ""


NOT_GIVEN = Source(mark=Mark.NOT_GIVEN)
