"""The plate in words: how old the readings of its surface are, and whether it is hot all through."""

from collections.abc import Iterable

from logger.domain.heat_through import Heat
from logger.domain.plate_surface import SurfaceCheck, age_days
from logger.domain.source import Mark, Source
from logger.wording.language import say
from logger.wording.plan_text import MARK_TEXT

_MARKS = {Mark.MEMORY: "from memory"}
"""In the few words that a line beside the work has room for; others as everywhere."""
NOT_READ = "surface never held against the built-in sensor"


def surface_text(
    instrument: str, measured_on: str, days: int, faces: Iterable[tuple[str, float, float]]
) -> str:
    """One paragraph: when and with what, then (face, offset in K, spread in K) of each face."""
    text = say(
        "surface read on {date}, {days} days before, {instrument}",
        date=measured_on, days=days, instrument=instrument,
    )  # fmt: skip
    parts = [
        say("face {face} {offset:+.1f} K, spread {spread:.1f} K", face=face, offset=offset, spread=spread)
        for face, offset, spread in faces
    ]
    return "; ".join([text, *parts])


def due_text(due: str, source: Source, *, is_overdue: bool) -> str:
    """When the faces are to be read again, and whose interval that is."""
    named = f"{say(source.text)}, {say(MARK_TEXT[source.mark])}"
    if is_overdue:
        return say("OVERDUE since {due} ({source})", due=due, source=named)
    return say("due {due} ({source})", due=due, source=named)


def short_surface_text(days: int, due: str, *, is_overdue: bool) -> str:
    """Age and due date alone, where there is no room for more."""
    if is_overdue:
        return say("plate surface read {days} days before, OVERDUE since {due}", days=days, due=due)
    return say("plate surface read {days} days before, due {due}", days=days, due=due)


def surface_line(check: SurfaceCheck | None, utc: str) -> str:
    """All of it as it stood at `utc`, for status and report."""
    if check is None:
        return say(NOT_READ)
    faces = [(one.face, one.offset_K, one.spread_K) for one in check.faces]
    told = surface_text(check.instrument, check.measured_on, age_days(check, utc), faces)
    return f"{told}; {due_text(check.due, check.due_source, is_overdue=check.due < utc[:10])}"


def heat_text(heat: str, gone: str, needed: str, source: Source) -> str:
    """`heat-through 3:20 of 10:00, DVS 2207, from memory`; `gone` and `needed` are times in words."""
    mark = say(_MARKS.get(source.mark, MARK_TEXT[source.mark]))
    # The document alone: what it says in detail stands beside the item of the preparation.
    named = f"{source.text.partition(',')[0].partition(':')[0]}, {mark}"
    match heat:
        case Heat.COUNTING:
            return say("heat-through {gone} of {needed}, {source}", gone=gone, needed=needed, source=named)
        case Heat.THROUGH:
            return say("heat-through done: {needed}, {source}", needed=needed, source=named)
        case Heat.WARMING:
            return say("plate warms up, then {needed} of heat-through, {source}", needed=needed, source=named)
        case Heat.NOT_OBSERVED if gone:
            return say(
                "heat-through: not observed since switch-on; hot {gone}/{needed}, {mark}",
                gone=gone, needed=needed, mark=mark,
            )  # fmt: skip
        case Heat.NOT_OBSERVED:
            return say(
                "heat-through: not observed since switch-on; {needed}, {source}", needed=needed, source=named
            )
    return say("heat-through not known: no plate reading")
