"""Footnotes: each source once, numbered as it is first named, with its mark."""

from collections.abc import Iterator

from logger.domain.source import Mark, Source
from logger.wording.plan_text import MARK_TEXT


class SourceNotes:
    """Numbers sources in the order in which a page first names them."""

    def __init__(self) -> None:
        self._numbers: dict[Source, int] = {}

    def number(self, source: Source) -> str:
        """Return `[3]`, or nothing where nothing is given."""
        if source.mark is Mark.NOT_GIVEN:
            return ""
        return f"[{self._numbers.setdefault(source, len(self._numbers) + 1)}]"

    def footnotes(self) -> Iterator[str]:
        for source, number in self._numbers.items():
            yield f"[{number}] {source.text} ({MARK_TEXT[source.mark]})"
