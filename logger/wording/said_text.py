"""What people put on record about a joint afterwards, a line each."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from logger.domain.judgement import Verdict
from logger.domain.record import Statement
from logger.wording.events import VERDICT_NAMES

Body = Mapping[str, Any]


def said_lines(statements: Sequence[Statement]) -> Iterator[str]:
    """Yield what was said, in the order of the record; nothing of it changes what stands above it."""
    for said in statements:
        text = _TEXTS.get(said.kind)
        if text is not None:
            why = f": {said.reason}" if said.reason else ""
            yield f"{text(said.body)} ({said.author}, {said.at.utc[:16].replace('T', ' ')}{why})"


def _opinion(body: Body) -> str:
    verdict = VERDICT_NAMES[Verdict(str(body.get("verdict")))]
    return f"opinion, not the verdict: {verdict}. {body.get('terms', '')}"


def _sign_off(body: Body) -> str:
    closed, by = str(body.get("closed_as", "")).replace("_", " "), body.get("concession_by")
    return f"signed off as {closed}{f' by {by}' if by else ''}, the number is marked on the pipe"


_TEXTS: dict[str, Callable[[Body], str]] = {
    "correction": lambda body: f"corrected: {body.get('what')} is {body.get('value')}",
    "attachment": lambda body: f"attached: {body.get('file')}, SHA-256 {str(body.get('sha256'))[:32]}...",
    "opinion": _opinion,
    "remark": lambda body: f"remark: {body.get('text')}",
    "sign_off": _sign_off,
}
