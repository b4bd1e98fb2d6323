"""Where the curves go, as lines of text. Pure."""

from logger.domain.forward_status import ForwardState
from logger.wire.live import ForwardingMessage
from logger.wording.forward_states import STATE_TEXTS
from tui.catalogue import tr
from tui.model import Picture
from tui.numbers import long_span

LIVE_S = 60.0
"""What waits no longer than this was just recorded: a choice."""


def forwarding_lines(picture: Picture) -> list[str]:
    """How sending the curves to each server stands; no trouble of the rig, which needs none of them."""
    state = picture.state
    return [] if state is None else [_forwarding_text(one) for one in state.forwarding]


def _forwarding_text(one: ForwardingMessage) -> str:
    code = ForwardState.CAUGHT_UP if _is_live(one) else one.state
    known = {str(state): text for state, text in STATE_TEXTS.items()}
    parts = [tr(known.get(code, code.replace("_", " ")))]
    if one.backlog and not _is_live(one):
        parts.append(tr("{count} wait", count=one.backlog))
        if one.oldest_age_s is not None:
            parts.append(tr("oldest {age}", age=long_span(one.oldest_age_s)))
    if one.parked:
        parts.append(tr("{count} lines put aside", count=one.parked))
    return tr("Curves to {target}: {how}", target=one.target, how=", ".join(parts))


def _is_live(one: ForwardingMessage) -> bool:
    """What waits is what was just recorded."""
    return one.state == ForwardState.SENDING and (one.oldest_age_s or 0.0) < LIVE_S
