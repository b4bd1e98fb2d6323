"""The three lines that an inspector asks for: curve, preparation, visual examination of the joint."""

from collections.abc import Iterator, Sequence

from logger.domain.record import Statement
from logger.domain.sheet import SheetRow
from logger.wording.language import figure, say

NOT_ENTERED = "not entered"
SEEN_WORDS = (
    "bead width least mm", "bead width greatest mm", "misalignment mm", "notch", "look", "is accepted",
    "True", "False", "not_to_the_surface", "to_the_surface", "not_examined",
)  # fmt: skip
"""What an examination is kept as."""


def acceptance_rows(curve: str, statements: Sequence[Statement]) -> Iterator[SheetRow]:
    """Return the three rows; what nobody did is said to be not done, never left blank."""
    verdict = say("verdict of the recorded curve: {verdict}", verdict=curve)
    yield SheetRow(label=say("Curve"), value=verdict)
    yield SheetRow(label=say("Preparation"), value=_preparation(statements))
    yield SheetRow(label=say("Visual"), value=_visual(statements))


def _preparation(statements: Sequence[Statement]) -> str:
    latest = {str(s.body.get("item")): s for s in statements if s.kind == "preparation"}
    if not latest:
        return say("not done: no checklist was recorded")
    skipped = [say(item.replace("_", " ")) for item, s in latest.items() if s.body.get("answer") != "done"]
    authors = ", ".join(dict.fromkeys(s.author for s in latest.values()))
    done = say(
        "{done} of {count} items done, by {authors}",
        done=len(latest) - len(skipped), count=len(latest), authors=authors,
    )  # fmt: skip
    return done + say("; skipped: {items}", items=", ".join(skipped)) if skipped else done


def _visual(statements: Sequence[Statement]) -> str:
    seen = [statement for statement in statements if statement.kind == "visual"]
    if not seen:
        return say("not done: no examination of the joint was recorded")
    latest = seen[-1]
    said = "; ".join(f"{say(key.replace('_', ' '))} {_value(value)}" for key, value in latest.body.items())
    return say("examined by {name}, {when}: {seen}", name=latest.author, when=latest.at.utc, seen=said)


def _value(value: object) -> str:
    return figure(value) if isinstance(value, float) else say(str(value))
