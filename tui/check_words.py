"""The preparation's items in the operator's words and units. Pure."""

from logger.domain.band import Band
from logger.domain.checklist import CheckCode
from logger.wire.desk import CheckModel
from logger.wire.live import DragOfferMessage
from logger.wording.checklist_text import CHECK_TEXTS
from logger.wording.units import Units
from tui.catalogue import tr
from tui.model import Picture
from tui.numbers import band_text, gauge, gauge_with_unit, number, seconds
from tui.plan_words import duration_text, limits_text, source_text

DONE, SKIPPED = "done", "skipped"


def item_text(check: CheckModel, units: Units) -> str:
    """One item in the operator's words and units."""
    limit = tr("no limit given")
    if check.limit is not None:
        band = Band(min=check.limit.min, target=check.limit.target, max=check.limit.max)
        is_time = check.item is CheckCode.HEATED_THROUGH
        limit = duration_text(band) if is_time else _limit_text(band, check.unit, units)
    return tr(CHECK_TEXTS[check.item], limit=limit)


def _limit_text(band: Band, unit: str, units: Units) -> str:
    if unit != "bar":
        return limits_text(band, unit.replace("degC", "°C"), 0 if unit == "degC" else 1)
    if band.min is None and band.max is None and band.target is not None:
        return gauge_with_unit(band.target, units)
    return f"{band_text(band.min, band.max, units)} {units.pressure}"


def detail_lines(check: CheckModel) -> list[str]:
    lines = [source_text(check.source, check.mark)]
    if check.item is CheckCode.SIGNALS_NOTICED:
        lines.append(tr("F9 sounds and flashes each signal on this machine."))
    said = check.said
    if said is not None:
        value = said.body.get("value")
        parts = [said.author, said.reason, str(said.body.get("instrument", ""))]
        if isinstance(value, int | float):
            parts.append(f"{number(value, 1)} {said.body.get('unit', '')}")
        text = ", ".join(part for part in parts if part)
        lines.append(tr("{answer}: {what}", answer=answer_word(check), what=text))
    return lines


def answer_word(check: CheckModel) -> str:
    if check.said is None:
        return tr("open")
    return tr("done") if check.said.body.get("answer") == DONE else tr("SKIPPED")


def drag_offer_text(offer: DragOfferMessage, picture: Picture) -> str:
    units = picture.units
    text = tr(
        "Drag read off the stroke {age} ago: {drag}, spread {spread}.",
        age=seconds(max(picture.now_s - offer.at_s, 0.0)),
        drag=gauge_with_unit(offer.pressure_bar, units), spread=gauge(offer.spread_bar, units),
    )  # fmt: skip
    if offer.breakaway_bar is not None:
        text += " " + tr("Breakaway {pressure}.", pressure=gauge_with_unit(offer.breakaway_bar, units))
    if not offer.is_closing_seen:
        text += " " + tr("The rig does not show which way it moved.")
    return text
