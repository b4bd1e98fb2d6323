"""What `calibrate` says: the guidance, the result, the keys for the rig file."""

from collections.abc import Sequence
from typing import Protocol

from logger.domain.calibration import CalibrationFit, ReferencePoint
from logger.domain.channel import Channel, Quantity

_GUIDANCE = {
    Quantity.PRESSURE: (
        "Hold a reference gauge on the same line. Use pressures over the whole range that joints need, one",
        "near zero: vent to prove it. Let each settle, with the carriage at rest and everyone clear.",
    ),
    Quantity.PLATE_TEMPERATURE: (
        "Hold a contact thermometer to the plate's face and wait until both have settled, some minutes at",
        "each setting. The plate is over 200 °C: gloves, nothing combustible near, nobody behind you.",
    ),
}
_OTHERWISE = ("Set the channel to values over its whole range and let each settle; everyone clear.",)


def guidance_lines(channel: Channel) -> tuple[str, ...]:
    first = {Quantity.PRESSURE_2: Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE_2: Quantity.PLATE_TEMPERATURE}
    return _GUIDANCE.get(first.get(channel.quantity, channel.quantity), _OTHERWISE)


def fit_lines(points: Sequence[ReferencePoint], fit: CalibrationFit, unit: str) -> list[str]:
    """Return the points with their errors before and after, and how sure the new line is."""
    lines = [
        f"{'reference':>11} {'raw number':>12} {'spread':>9} {'n':>4} {'before':>10} {'after':>10}   {unit}"
    ]
    for point, before, after in zip(points, fit.errors_before, fit.errors_after, strict=True):
        lines.append(
            f"{point.reference:11.4g} {point.number:12.6g} {point.spread:9.3g} {point.count:4} "
            f"{_shown(before)} {_shown(after)}"
        )
    lines.append(f"standard uncertainty {fit.standard_uncertainty:.3g} {unit}")
    shown = [point.reference for point in points]
    lines.append(f"held from {min(shown):g} to {max(shown):g} {unit}; outside that nothing was compared")
    if not fit.has_residuals:
        lines.append("two points only: nothing tells how straight the channel is; a third would")
    return lines


def _shown(error: float) -> str:
    """Return an error without the last digits of the arithmetic, which no instrument has."""
    return f"{round(error, 9) + 0.0:+10.4g}"


_SHOWN = (0.0, 100.0)
"""The numbers in a text at which its scale is given."""


def key_lines(
    channel: Channel, fit: CalibrationFit, unit: str, dates: tuple[str, str], *, is_text: bool = False
) -> list[str]:
    """Return what to write into the rig file. A 4-20 mA signal keeps its two points for its bands."""
    calibrated, due = dates
    lines = [f"[channel.{channel.quantity}]"]
    if is_text:
        lines.append(_scale_line(_SHOWN, fit, unit))
    elif channel.loop is None:
        lines += [f'gain = "{fit.gain:.9g} {unit}"', f'offset = "{fit.offset:.9g} {unit}"']
    else:
        low, high = ((end - channel.scaling.offset) / channel.scaling.gain for end in _ends(channel))
        lines.append(_scale_line((low, high), fit, unit))
    lines.append(f'uncertainty = "{fit.standard_uncertainty:.3g} {unit}"')
    lines += [
        f"[channel.{channel.quantity}.sensor]",
        f"calibrated = {calibrated}",
        f"calibration_due = {due}",
    ]
    return lines


def _scale_line(raws: tuple[float, float], fit: CalibrationFit, unit: str) -> str:
    values = ", ".join(f'"{fit.gain * raw + fit.offset:.9g} {unit}"' for raw in raws)
    return f"scale = {{ raw = [{raws[0]:.9g}, {raws[1]:.9g}], value = [{values}] }}"


def _ends(channel: Channel) -> tuple[float, float]:
    if channel.loop is None:
        raise ValueError("no 4-20 mA signal")
    return channel.loop.at_4_mA, channel.loop.at_20_mA


class Kept(Protocol):
    """A line of the history."""

    @property
    def calibrated(self) -> str: ...
    @property
    def channel(self) -> str: ...
    @property
    def points(self) -> Sequence[object]: ...
    @property
    def standard_uncertainty(self) -> float: ...
    @property
    def unit(self) -> str: ...
    @property
    def certificate(self) -> str: ...
    @property
    def reference(self) -> str: ...
    @property
    def reference_due(self) -> str: ...
    @property
    def due(self) -> str: ...
    @property
    def by(self) -> str: ...


def history_lines(history: Sequence[Kept]) -> list[str]:
    return [
        f"{one.calibrated}  {one.channel:<20} {len(one.points)} points, standard uncertainty "
        f"{one.standard_uncertainty:.3g} {one.unit}, against {one.reference} (certificate "
        f"{one.certificate or 'none'}, itself due {one.reference_due or 'not said'}), due {one.due}, "
        f"by {one.by}"
        for one in history
    ]
