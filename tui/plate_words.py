"""The plate before work in the operator's words: heat-through counted, the surface's age. Pure."""

from logger.domain.checklist import CheckCode
from logger.domain.heat_through import Heat
from logger.domain.source import Source
from logger.wire.desk import CheckModel
from logger.wire.live import HandSurfaceMessage, HeatThroughMessage, SurfaceMessage
from logger.wording.plate_text import NOT_READ, due_text, heat_text, short_surface_text, surface_text
from tui.catalogue import tr
from tui.glance import Trust
from tui.model import PLATE, Picture
from tui.numbers import long_span, number

_MINUTE_S = 60


def heat_lines(picture: Picture, now_s: float) -> list[str]:
    """The time counted since the plate was switched on; nothing once the ends have met it."""
    state = picture.state
    if state is None or state.heat_through is None or picture.trust(now_s) is Trust.OLD:
        return []
    return [_sentence(_heat_text(state.heat_through))]


def heat_beside(check: CheckModel | None, picture: Picture, now_s: float, *, is_low: bool) -> list[str]:
    """Beside the items of the preparation; in a low window beside its own alone: others need the room."""
    if check is None or (is_low and check.item is not CheckCode.HEATED_THROUGH):
        return []
    return heat_lines(picture, now_s)


def surface_lines(picture: Picture, *, is_short: bool = False) -> list[str]:
    """The readings of the surface: those of the rig file, and the last ones by hand; or their age alone."""
    state = picture.state
    if state is None or picture.channel(PLATE) is None:
        return []
    check = state.plate_surface
    if check is not None and is_short:
        return [_sentence(short_surface_text(check.age_days, check.due, is_overdue=check.is_overdue))]
    lines = [tr(NOT_READ)] if check is None else [_surface(check)]
    by_hand = () if is_short else state.surface_by_hand
    return [_sentence(line) for line in (*lines, *(_by_hand(one) for one in by_hand))]


def _heat_text(heat: HeatThroughMessage) -> str:
    is_known = heat.gone_s is not None and heat.heat != Heat.WARMING
    gone = _minutes(heat.gone_s or 0.0) if is_known else ""
    source = Source(mark=heat.mark, text=heat.source)
    return heat_text(heat.heat, gone, _minutes(heat.needed_s), source)


def _surface(check: SurfaceMessage) -> str:
    faces = [(one.face, one.offset_K, one.spread_K) for one in check.faces]
    text = surface_text(check.instrument, check.measured_on, check.age_days, faces)
    source = Source(mark=check.due_mark, text=check.due_source)
    return f"{text}; {due_text(check.due, source, is_overdue=check.is_overdue)}"


def _by_hand(one: HandSurfaceMessage) -> str:
    sides = {"fixed": tr("fixed side"), "moving": tr("moving side"), "both": tr("both sides")}
    text = tr(
        "read by hand {age} ago, {side}, {instrument}: {degrees} °C",
        age=long_span(one.age_s), side=sides.get(one.face, one.face), instrument=one.instrument,
        degrees=number(one.temperature_degC, 1),
    )  # fmt: skip
    if one.offset_K is None:
        text = tr("{reading}, no built-in reading then", reading=text)
    else:
        sign = "+" if one.offset_K >= 0 else "-"
        offset = f"{sign}{number(abs(one.offset_K), 1)}"
        text = tr("{reading}, {offset} K to the built-in sensor", reading=text, offset=offset)
    return tr("{reading} (before this joint)", reading=text) if one.is_before_joint else text


def _minutes(span_s: float) -> str:
    """Whole seconds, towards zero: nothing is through before it is."""
    whole = int(span_s)
    return f"{whole // _MINUTE_S}:{whole % _MINUTE_S:02d}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
