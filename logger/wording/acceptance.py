"""The three lines that an inspector asks for: curve, preparation, visual examination of the joint."""

from collections.abc import Iterator, Sequence

from logger.domain.record import Statement
from logger.domain.sheet import SheetRow

NOT_ENTERED = "not entered"
NOT_DONE = "not done"


def acceptance_rows(curve: str, statements: Sequence[Statement]) -> Iterator[SheetRow]:
    """Return the three rows; what nobody did is said to be not done, never left blank."""
    yield SheetRow(label="Curve", value=f"verdict of the recorded curve: {curve}")
    yield SheetRow(label="Preparation", value=_preparation(statements))
    yield SheetRow(label="Visual", value=_visual(statements))


def _preparation(statements: Sequence[Statement]) -> str:
    latest = {str(s.body.get("item")): s for s in statements if s.kind == "preparation"}
    if not latest:
        return f"{NOT_DONE}: no checklist was recorded"
    skipped = [item.replace("_", " ") for item, s in latest.items() if s.body.get("answer") != "done"]
    authors = ", ".join(dict.fromkeys(s.author for s in latest.values()))
    done = f"{len(latest) - len(skipped)} of {len(latest)} items done, by {authors}"
    return f"{done}; skipped: {', '.join(skipped)}" if skipped else done


def _visual(statements: Sequence[Statement]) -> str:
    seen = [statement for statement in statements if statement.kind == "visual"]
    if not seen:
        return f"{NOT_DONE}: no examination of the joint was recorded"
    latest = seen[-1]
    said = "; ".join(f"{key.replace('_', ' ')} {value}" for key, value in latest.body.items())
    return f"examined by {latest.author}, {latest.at.utc}: {said}"
