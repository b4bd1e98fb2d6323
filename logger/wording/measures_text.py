"""The measures of a joint as short lines of text, for a reviewer."""

from logger.domain.measures import Measures, StepMeasures
from logger.wording.events import PHASE_NAMES
from logger.wording.language import figure, say


def measures_lines(measures: Measures) -> list[str]:
    """One line for each step, with a second where something left its band, then plate and drag."""
    lines = [say("Measures (they decide nothing)")]
    for step in measures.steps:
        lines += _step_lines(step)
    plate, drag = measures.plate, measures.drag
    seen = say(
        "at contact {contact}, least {least}, at removal {removal} degC",
        contact=_figure(plate.at_contact_degC), least=_figure(plate.least_degC),
        removal=_figure(plate.at_removal_degC),
    )  # fmt: skip
    lines.append(f"  {say('plate'):17} {seen}")
    seen = say(
        "bar: confirmed {confirmed}, in the curve {detected}, spread {spread}, breakaway {breakaway}",
        confirmed=_figure(drag.confirmed_bar), detected=_figure(drag.detected_bar),
        spread=_figure(drag.spread_bar), breakaway=_figure(drag.breakaway_bar),
    )  # fmt: skip
    lines.append(f"  {say('drag'):17} {seen}")
    return lines


def _step_lines(step: StepMeasures) -> list[str]:
    name = say(PHASE_NAMES[step.phase]) + ("" if step.step is None else f" {step.step}")
    gauge, interface = step.gauge_bar, step.interface_MPa
    line = f"  {name:17} " + say(
        "gauge {mean:.2f} ({least:.2f} to {greatest:.2f}) bar",
        mean=gauge.mean, least=gauge.least, greatest=gauge.greatest,
    )  # fmt: skip
    if interface is not None:
        line += say(
            ", interface {mean:.3f} MPa, at rest ± {friction:.3f}",
            mean=interface.mean, friction=step.friction_MPa,
        )  # fmt: skip
    if step.in_band_share is not None:
        line += say(", in band {share:.1f} %", share=100 * step.in_band_share)
    lines = [line]
    if step.overshoot_bar:
        lines.append(_under(say("overshoot {over:.2f} bar over its target", over=step.overshoot_bar)))
    if step.leak_down_bar_per_min is not None:
        text = say(
            "leak-down {rate:.2f} bar/min, top-ups {count}",
            rate=step.leak_down_bar_per_min, count=step.top_ups,
        )  # fmt: skip
        lines.append(_under(text))
    if step.excursions:
        text = say(
            "outside {count} times, at most {longest:.1f} s, {area:.1f} bar s",
            count=len(step.excursions), longest=step.longest_excursion_s, area=step.area_outside_bar_s,
        )  # fmt: skip
        since_s = step.excursions[0].since_contact_s
        if since_s is not None:
            text += say(", first {since:.1f} s after contact", since=since_s)
        lines.append(_under(text))
    return lines


def _under(text: str) -> str:
    return f"{'':20}{text}"


def _figure(value: float | None) -> str:
    return say("not seen") if value is None else figure(value, ".4g")
