"""The measures of a joint as short lines of text, for a reviewer."""

from logger.domain.measures import Measures, StepMeasures
from logger.wording.events import PHASE_NAMES


def measures_lines(measures: Measures) -> list[str]:
    """One line for each step, with a second where something left its band, then plate and drag."""
    lines = ["Measures (they decide nothing)"]
    for step in measures.steps:
        lines += _step_lines(step)
    plate, drag = measures.plate, measures.drag
    lines.append(
        f"  {'plate':18}at contact {_figure(plate.at_contact_degC)}, least {_figure(plate.least_degC)}, "
        f"at removal {_figure(plate.at_removal_degC)} degC"
    )
    lines.append(
        f"  {'drag':18}confirmed {_figure(drag.confirmed_bar)}, in the curve {_figure(drag.detected_bar)}, "
        f"spread {_figure(drag.spread_bar)}, breakaway {_figure(drag.breakaway_bar)} bar"
    )
    return lines


def _step_lines(step: StepMeasures) -> list[str]:
    name = PHASE_NAMES[step.phase] + ("" if step.step is None else f" {step.step}")
    gauge, interface = step.gauge_bar, step.interface_MPa
    line = f"  {name:18}gauge {gauge.mean:.2f} ({gauge.least:.2f} to {gauge.greatest:.2f}) bar"
    if interface is not None:
        line += f", interface {interface.mean:.3f} MPa, at rest ± {step.friction_MPa:.3f}"
    if step.in_band_share is not None:
        line += f", in band {100 * step.in_band_share:.1f} %"
    lines = [line]
    if step.overshoot_bar:
        lines.append(f"{'':20}overshoot {step.overshoot_bar:.2f} bar over its target")
    if step.leak_down_bar_per_min is not None:
        lines.append(f"{'':20}leak-down {step.leak_down_bar_per_min:.2f} bar/min, top-ups {step.top_ups}")
    if step.excursions:
        first = step.excursions[0]
        since = (
            "" if first.since_contact_s is None else f", first {first.since_contact_s:.1f} s after contact"
        )
        lines.append(
            f"{'':20}outside {len(step.excursions)} times, at most {step.longest_excursion_s:.1f} s, "
            f"{step.area_outside_bar_s:.1f} bar s{since}"
        )
    return lines


def _figure(value: float | None) -> str:
    return "not seen" if value is None else f"{value:.4g}"
