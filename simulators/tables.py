"""Tables of TOML or JSON to frozen values: what is unknown, missing or unfit is refused, with its place."""

import dataclasses
import difflib
import math
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from simulators.toml_lines import Place

Where = Callable[[Place], str]
"""Names file and line of a place, as an error begins."""


@dataclass(frozen=True)
class _From:
    lowest: float
    excluded: bool


NotNegative = Annotated[float, _From(0.0, excluded=False)]
Positive = Annotated[float, _From(0.0, excluded=True)]
Count = Annotated[int, _From(1, excluded=False)]


class ScenarioError(ValueError):
    """A scenario is missing or wrong; `str()` is one line: FILE:LINE: KEY: what is wrong (nearest choice)."""


def merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Return `base` with the entries of `over`; tables merge, everything else is replaced."""
    result = dict(base)
    for key, value in over.items():
        old = result.get(key)
        result[key] = merged(old, value) if isinstance(old, dict) and isinstance(value, Mapping) else value
    return result


def nearest(word: str, choices: Sequence[str]) -> str:
    """Return ` (did you mean X?)`, or all choices where none comes close."""
    near = difflib.get_close_matches(word, choices, n=1, cutoff=0.4)
    return f" (did you mean {near[0]}?)" if near else f" (one of: {', '.join(choices)})"


def built(cls: type, table: Mapping[str, Any], where: Where, place: Place = ()) -> object:
    """Make the dataclass `cls` of `table`, its fields' types deciding what fits.

    Raises:
        ScenarioError: unknown or missing key, wrong type, a number out of range or not finite.
    """
    hints = typing.get_type_hints(cls, include_extras=True)
    for key in table:
        if key not in hints:
            raise _error(where, (*place, key), f"unknown key{nearest(key, sorted(hints))}")
    for part in dataclasses.fields(cls):
        if part.name not in table and part.default is dataclasses.MISSING:
            raise _error(where, (*place, part.name), "missing")
    return cls(**{key: _value(hints[key], value, where, (*place, key)) for key, value in table.items()})


def _value(hint: Any, value: Any, where: Where, place: Place) -> Any:
    if dataclasses.is_dataclass(hint):
        if not isinstance(value, Mapping):
            raise _error(where, place, "expected a table")
        return built(typing.cast(type, hint), value, where, place)
    if isinstance(hint, types.GenericAlias):
        if not isinstance(value, (list, tuple)):
            raise _error(where, place, "expected a list")
        entries = enumerate(value, start=1)
        return tuple(_value(hint.__args__[0], entry, where, (*place, number)) for number, entry in entries)
    if typing.get_origin(hint) is Literal:
        choices = list(typing.get_args(hint))
        if value not in choices:
            raise _error(where, place, f"{value!r} is not known{nearest(str(value), choices)}")
        return value
    if typing.get_origin(hint) is Annotated:
        kind, limit = typing.get_args(hint)
        number = _scalar(kind, value, where, place)
        if number < limit.lowest or (limit.excluded and number == limit.lowest):
            wanted = f"{'above' if limit.excluded else 'at least'} {limit.lowest:g}"
            raise _error(where, place, f"{number} is too small (expected {wanted})")
        return number
    return _scalar(hint, value, where, place)


def _scalar(hint: type, value: Any, where: Where, place: Place) -> Any:
    if hint is float and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if type(value) is not hint:
        raise _error(where, place, f"expected {hint.__name__}, not {value!r}")
    if isinstance(value, float) and not math.isfinite(value):
        raise _error(where, place, "expected a finite number")
    return value


def _error(where: Where, place: Place, message: str) -> ScenarioError:
    return ScenarioError(f"{where(place)}: {_shown(place)}: {message}")


def _shown(place: Place) -> str:
    """`("fault", 1, "kind")` as people say it: `fault 1: kind`."""
    text = ""
    for part in place:
        text += f" {part}" if isinstance(part, int) else f"{': ' if text else ''}{part}"
    return text
