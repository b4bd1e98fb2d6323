"""A limit with a lower edge, a target and an upper edge, each of which may be missing."""

from dataclasses import dataclass

from logger.domain.source import NOT_GIVEN, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Lower edge, target and upper edge in one unit, named by the field that holds the band.

    `None` means that the procedure gives nothing there: never zero.
    """

    min: float | None = None
    target: float | None = None
    max: float | None = None
    source: Source = NOT_GIVEN

    @property
    def is_given(self) -> bool:
        return not (self.min is None and self.target is None and self.max is None)


NO_BAND = Band()
