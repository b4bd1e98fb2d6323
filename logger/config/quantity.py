"""Text with a unit ("180 mm", "12 bar") to a float in the domain unit: the only module that knows pint."""

import math
import re
import sys
from functools import cache
from typing import TYPE_CHECKING, Annotated, NamedTuple

from pydantic import BeforeValidator, WithJsonSchema

from logger.config.fault_text import near_of

if TYPE_CHECKING:
    import pint


class Kind(NamedTuple):
    """A kind of quantity: its name with article, the domain unit, an example, what is impossible."""

    name: str
    unit: str
    example: str
    least: float = -math.inf
    is_least_allowed: bool = True


LENGTH = Kind("a length", "mm", '"180 mm"', 0.0, is_least_allowed=False)
ROD = Kind("a length", "mm", '"30 mm"', 0.0)
DISTANCE = Kind("a length", "mm", '"250 mm"')
AREA = Kind("an area", "mm**2", '"6.29 cm2"', 0.0, is_least_allowed=False)
PRESSURE = Kind("a pressure", "bar", '"12 bar"', 0.0)
GAUGE_POINT = Kind("a pressure", "bar", '"250 bar"')
TEMPERATURE = Kind("a temperature", "degC", '"20 degC"', -273.15)
FREQUENCY = Kind("a rate", "Hz", '"10 Hz"', 0.0, is_least_allowed=False)
DURATION = Kind("a time", "s", '"0.5 s"', 0.0)

_TEXT = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d.,\s+-][^,]*?|)\s*$")
_UNIT = re.compile(r"^[A-Za-z°µ]{1,12}[23]?(/[A-Za-z]{1,12}[23]?)?$")
_WRITTEN = (
    *("mm", "cm", "m", "um", "in", "ft", "mm2", "cm2", "in2", "s", "ms", "min", "h", "Hz"),
    *("bar", "mbar", "psi", "MPa", "kPa", "Pa", "N/mm2", "degC", "degF", "K"),
)
_DIMENSION_NAME = {
    "[length]": "a length", "[length] ** 2": "an area", "[length] ** 3": "a volume", "[time]": "a time",
    "[mass] / [length] / [time] ** 2": "a pressure", "[temperature]": "a temperature",
    "[length] * [mass] / [time] ** 2": "a force", "1 / [time]": "a rate", "[mass]": "a mass",
}  # fmt: skip


# Only what is measured on a rig: reading the library's own list of units takes half a second, and would take
# "5 a" for five years. The library spells the degree sign "degree".
_UNITS = """
meter = [length] = m
millimeter = 0.001 * meter = mm
centimeter = 0.01 * meter = cm
micrometer = 1e-6 * meter = um = µm
inch = 0.0254 * meter = in
foot = 12 * inch = ft
second = [time] = s
millisecond = 0.001 * second = ms
minute = 60 * second = min
hour = 60 * minute = h
hertz = 1 / second = Hz
kilogram = [mass] = kg
newton = kilogram * meter / second ** 2 = N
kilonewton = 1000 * newton = kN
pascal = newton / meter ** 2 = Pa
kilopascal = 1000 * pascal = kPa
megapascal = 1e6 * pascal = MPa
bar = 1e5 * pascal
millibar = 100 * pascal = mbar
pound_force_per_square_inch = 6894.757293168362 * pascal = psi
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = degC = degreeC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 255.3722222222222 = degF = degreeF
"""


@cache
def _registry() -> "pint.UnitRegistry[float]":
    is_new = "numpy" not in sys.modules
    if is_new:  # The library would load it to no use: 12 MB of the recorder's memory.
        sys.modules["numpy"] = None  # type: ignore[assignment]
    try:
        import pint
    finally:
        if is_new:
            del sys.modules["numpy"]
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    registry.load_definitions(_UNITS.splitlines())
    return registry


def parse_quantity(text: object, kind: Kind) -> float:
    """Return `text` in `kind.unit`, rounded to 1e-9 so that 104 degF is 40 degC.

    Raises:
        ValueError: no unit, an unknown unit, another dimension, or a value that cannot be.
    """
    number, unit = _number_and_unit(text, kind)
    value = round(_converted(number, unit, kind), 9)
    if not math.isfinite(value):
        raise ValueError(f'"{text}" is not a finite number; {_needed(kind)}')
    if value < kind.least or (value == kind.least and not kind.is_least_allowed):
        edge = "at least" if kind.is_least_allowed else "more than"
        raise ValueError(f'"{text}" cannot be: {edge} {kind.least:g} {kind.unit.replace("**", "")} is needed')
    return value


def parse_difference(text: object, kind: Kind) -> float:
    """Return a difference such as a step or an uncertainty in `kind.unit`: "0.9 degF" is 0.5 degC.

    Raises:
        ValueError: no unit, an unknown unit or another dimension.
    """
    number, unit = _number_and_unit(text, kind)
    value = _converted(number, unit, kind) - _converted(0.0, unit, kind)
    if not math.isfinite(value):
        raise ValueError(f'"{text}" is not a finite number; {_needed(kind)}')
    return value


def zero_of(text: object, kind: Kind) -> float:
    """Return what 0 in the unit of `text` is in `kind.unit`: of "0.1 degF" it is -17.8 degC.

    Raises:
        ValueError: as `parse_difference`.
    """
    return _converted(0.0, _number_and_unit(text, kind)[1], kind)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Return `value` in another unit of the same dimension, for output in the user's units."""
    return float(_registry().Quantity(value, _spelled(from_unit)).to(_spelled(to_unit)).magnitude)


def _number_and_unit(text: object, kind: Kind) -> "tuple[float, pint.Unit]":
    if not isinstance(text, str):
        raise ValueError(f"{text!r} has no unit; {_needed(kind)}")
    match = _TEXT.match(text)
    if match is None:
        raise ValueError(f'"{text}" is not a number with a unit; {_needed(kind)}')
    if not match.group(2):
        raise ValueError(f'"{text}" has no unit; {_needed(kind)}')
    unit = _unit(match.group(2))
    if unit is None:
        near = near_of(match.group(2), _names_of(kind))
        example = f'"{match.group(1)} {near[0]}"' if near else kind.example
        raise ValueError(f'"{text}" has a unit that is not known; {_needed(kind._replace(example=example))}')
    if not unit.is_compatible_with(kind.unit):
        name = _DIMENSION_NAME.get(str(unit.dimensionality), "another kind of quantity")
        raise ValueError(f'"{text}" is {name}; {_needed(kind)}')
    return float(match.group(1)), unit


def _converted(number: float, unit: "pint.Unit", kind: Kind) -> float:
    return float(_registry().Quantity(number, unit).to(kind.unit).magnitude)


def _names_of(kind: Kind) -> list[str]:
    """Return the units that people write for a kind of quantity."""
    return [name for name in _WRITTEN if (unit := _unit(name)) and unit.is_compatible_with(kind.unit)]


def _needed(kind: Kind) -> str:
    return f"{kind.name} like {kind.example} is needed"


def _spelled(unit: str) -> str:
    return re.sub(r"(?<=[A-Za-z])([23])", r"**\1", unit)


@cache
def _unit(text: str) -> "pint.Unit | None":
    if not _UNIT.match(text):
        return None
    registry = _registry()
    import pint

    try:
        return registry.Unit(_spelled(text))
    except (pint.PintError, ValueError, AttributeError):
        return None


def _reader(kind: Kind) -> BeforeValidator:
    return BeforeValidator(lambda text: parse_quantity(text, kind))


def _published(kind: Kind) -> WithJsonSchema:
    return WithJsonSchema(
        {"type": "string", "description": f"{kind.name} with its unit", "examples": [kind.example.strip('"')]}
    )


Length = Annotated[float, _reader(LENGTH), _published(LENGTH)]
Rod = Annotated[float, _reader(ROD), _published(ROD)]
Area = Annotated[float, _reader(AREA), _published(AREA)]
Pressure = Annotated[float, _reader(PRESSURE), _published(PRESSURE)]
Temperature = Annotated[float, _reader(TEMPERATURE), _published(TEMPERATURE)]
Frequency = Annotated[float, _reader(FREQUENCY), _published(FREQUENCY)]
Duration = Annotated[float, _reader(DURATION), _published(DURATION)]
