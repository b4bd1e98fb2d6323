"""Figures as the operator reads them: unit of choice, decimal sign of the language."""

import math
from collections.abc import Callable

from logger.wording.language import decimal_sign
from logger.wording.units import PressureUnit, Units
from tui.catalogue import caption, tr

_DIGITS = {PressureUnit.BAR: 1, PressureUnit.MPA: 2, PressureUnit.PSI: 0}
_MINUTE_S = 60
_IN_MINUTES_FROM_S = 100.0


def number(value: float, digits: int) -> str:
    # Adding zero takes the sign off a zero.
    return f"{round(value, digits) + 0.0:.{digits}f}".replace(".", decimal_sign())


def gauge(pressure_bar: float, units: Units) -> str:
    """A pressure as it stands on the gauge, without its unit."""
    return number(units.gauge_of(pressure_bar), _DIGITS[units.pressure])


def gauge_with_unit(pressure_bar: float, units: Units) -> str:
    return f"{gauge(pressure_bar, units)} {units.pressure}"


def least_gauge(pressure_bar: float, units: Units) -> str:
    """A lower limit, rounded up: who keeps what is shown keeps the limit."""
    return _rounded(pressure_bar, units, math.ceil)


def most_gauge(pressure_bar: float, units: Units) -> str:
    """An upper limit, rounded down."""
    return _rounded(pressure_bar, units, math.floor)


def _rounded(pressure_bar: float, units: Units, rounding: Callable[[float], int]) -> str:
    digits = _DIGITS[units.pressure]
    scale = 10**digits
    shown = units.gauge_of(pressure_bar) * scale
    # A limit that is a round number must not move for the sake of its last binary digit.
    kept = round(shown) if abs(shown - round(shown)) < 1e-6 else rounding(shown)
    return f"{number(kept / scale, digits)} {units.pressure}"


def band_text(low_bar: float | None, high_bar: float | None, units: Units) -> str:
    """Limits on the gauge without their unit."""
    cut = len(f" {units.pressure}")
    low = None if low_bar is None else least_gauge(low_bar, units)[:-cut]
    high = None if high_bar is None else most_gauge(high_bar, units)[:-cut]
    if low is not None and high is not None:
        return caption("{low} to {high}", low=low, high=high)
    if high is not None:
        return caption("at most {high}", high=high)
    return caption("not given") if low is None else caption("at least {low}", low=low)


def degrees(temperature_degC: float) -> str:
    return f"{number(temperature_degC, 0)} °C"


def clock(seconds: float) -> str:
    """Seconds for the large figure: `57` below 100 s, `4:12` above; whole, towards zero."""
    whole = int(seconds)
    if whole < _IN_MINUTES_FROM_S:
        return str(whole)
    return f"{whole // _MINUTE_S}:{whole % _MINUTE_S:02d}"


def long_span(span_s: float) -> str:
    """An age in its largest whole unit."""
    if span_s >= 2 * 86_400.0:
        return tr("{days} days", days=int(span_s / 86_400.0))
    if span_s >= 2 * 3600.0:
        return tr("{hours} h", hours=int(span_s / 3600.0))
    return tr("{minutes} min", minutes=int(span_s / 60.0)) if span_s >= 2 * 60.0 else seconds(span_s)


def seconds(value_s: float, digits: int = 0) -> str:
    """A duration in words: `5.4 s` or `6 min 14 s`."""
    if value_s < _IN_MINUTES_FROM_S:
        return tr("{seconds} s", seconds=number(value_s, digits))
    whole = round(value_s)
    return tr("{minutes} min {seconds} s", minutes=whole // _MINUTE_S, seconds=whole % _MINUTE_S)
