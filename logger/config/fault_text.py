"""What pydantic finds wrong with a value, in words for the person who wrote the file."""

import re
from collections.abc import Callable, Mapping, Sequence
from difflib import get_close_matches
from typing import Any

_SHOWN = 60
_ENUM_MEMBER = re.compile(r"<[^<>:]*: ('[^']*')>")
_IN_QUOTES = re.compile(r"'([^']*)'")


def fault_text(fault: Any) -> str:
    """Return one pydantic fault without its place: what is wrong, what was given, what is nearest."""
    message = str(fault["msg"]).removeprefix("Value error, ")
    if fault["type"] == "value_error":
        return message
    context: Mapping[str, Any] = fault.get("ctx") or {}
    said = _SAID.get(fault["type"])
    text = f"{message[0].lower()}{message[1:]}" if said is None else said(context)
    if said is _is_table:
        return text
    given = fault.get("input")
    shown = repr(given)
    text = f"{text}, given {shown if len(shown) <= _SHOWN else shown[: _SHOWN - 3] + '...'}"
    return text + near_text(given, _IN_QUOTES.findall(str(context.get("expected", ""))))


def near_text(given: object, choices: Sequence[str]) -> str:
    """Return `; nearest: X` where one of the choices is near, in capitals or not; else an empty text."""
    near = near_of(given, choices) if isinstance(given, str) else []
    return f"; nearest: {', '.join(near)}" if near else ""


def near_of(given: str, choices: Sequence[str]) -> list[str]:
    """Return up to two of the choices that are near, the nearest first, in capitals or not."""
    folded = {choice.casefold(): choice for choice in choices}
    return [folded[one] for one in get_close_matches(given.strip().casefold(), list(folded), n=2, cutoff=0.5)]


def _one_of(context: Mapping[str, Any]) -> str:
    return "input should be " + _ENUM_MEMBER.sub(r"\1", str(context["expected"]))


def _is_table(_context: Mapping[str, Any]) -> str:
    return "a table is needed here, with keys of its own"


def _is_date(_context: Mapping[str, Any]) -> str:
    return "a date like 2027-02-10 is needed, without quotes"


_SAID: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "enum": _one_of,
    "literal_error": _one_of,
    "model_attributes_type": _is_table,
    "model_type": _is_table,
    "dict_type": _is_table,
    "date_from_datetime_parsing": _is_date,
    "date_from_datetime_inexact": _is_date,
    "date_type": _is_date,
    "date_parsing": _is_date,
    "too_long": lambda context: f"has more than {context['max_length']} entries",
    "too_short": lambda context: f"has fewer than {context['min_length']} entries",
}
"""By pydantic's kind of fault; any other keeps pydantic's own words, which name the limit."""
