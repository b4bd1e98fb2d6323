"""What a verdict says of the figures it rests on: remembered only, or vouched for by somebody."""

from collections.abc import Sequence

from logger.domain.judgement import Judgement
from logger.domain.record import Statement
from logger.wording.language import say


def figures_text(judgement: Judgement, confirmations: Sequence[Statement]) -> str:
    """Return the words beside the verdict; empty where no deciding limit comes from memory."""
    if not judgement.unverified_limits:
        return ""
    if not confirmations:
        return say("against unverified figures")
    latest = confirmations[-1]
    return say(
        "figures confirmed by {name}, {day}, against {document}",
        name=latest.author,
        day=latest.at.utc[:10],
        document=latest.body.get("document", ""),
    )
