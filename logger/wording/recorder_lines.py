"""What the recorder answers when it does not do what it was told, in the reader's language.

Its errors are one line of English, made where they arise. `LINES` are the forms of those that the monitor
meets; `told` knows a line by its form. A line of no known form stays English. A test holds the forms against
the sources they come from.
"""

import re
from functools import cache

from logger.wording.language import say

LINES = (
    # Of the desk and the recorder.
    "is needed",
    "this item has no value",
    "what is skipped needs its reason",
    "lies ahead of now on the joint's clock",
    "is less than the least width",
    "the number has to stand on the pipe before the joint is closed",
    "a concession names the person who gives it",
    "the curve is nonconforming: cut out, or a concession by a named person",
    "an uncertainty is more than nothing",
    "signed off already by {name}, {when}",
    "no joint is open",
    "not between the end of the soak and cooling; say it afterwards",
    "joint {joint} is still open",
    "without a name",
    "no joint is open that {what} could be confirmed for",
    "a drag",
    "a bead",
    "the joint has ended meanwhile; what was said stands in its record",
    "this joint has no plan that a drag could govern",
    "has changed since the joint was opened: its plan stays as it is",
    "joint {joint} has no entry to plan from",
    "joint {joint} has a name already: {name}",
    "joint {joint} is not in the record",
    "the record is closed",
    "database or disk is full",
    "disk I/O error",
    # Of quantities.
    '"{given}" is not a finite number; {needed}',
    '"{given}" cannot be: {limit} is needed',
    "at least {least}",
    "more than {least}",
    '"{given}" has no unit; {needed}',
    '"{given}" is not a number with a unit; {needed}',
    '"{given}" has a unit that is not known; {needed}',
    '"{given}" is {kind}; {needed}',
    "{given} has no unit; {needed}",
    "{kind} like {example} is needed",
    "a length",
    "an area",
    "a volume",
    "a time",
    "a pressure",
    "a temperature",
    "a force",
    "a rate",
    "a mass",
    "another kind of quantity",
    # Of pipes and joints as typed.
    'unknown material "{given}"{nearest}',
    'unknown procedure "{given}"{nearest}',
    'unknown option "{given}"{nearest}',
    'unknown table "{given}"{nearest}',
    'unknown rule "{given}"{nearest}',
    "; nearest: {choices}",
    "{wall} mm leaves no bore in a pipe of {diameter} mm outside diameter",
    "outside_diameter is given too; leave one out",
    "outside_diameter or nominal_size is needed",
    '"{given}" is no size like "IPS 8" or "DIPS 12"',
    "sdr or wall_thickness is needed",
    '"entered" needs wall_thickness',
    '"{given}" and wall_thickness exclude each other; leave one out',
    "{wall} mm conflicts with sdr {sdr}, which gives {other} mm for dn {diameter}; leave one out",
    "must be less than the diameter over the skin",
    "no outside diameter {diameter} mm in {table}",
    'no size "{given}" in {table}{nearest}',
    "{table} has no greatest wall for {size}; use table-min or the wall",
    "no SDR {sdr} in {table}; nearest: {choices}",
    "joint {joint} gives {area} mm2 and rig {rig} {other} mm2; leave it to one of them",
    "input should be a valid number, given {given}",
)
"""Tried in this order."""
_HOLE = re.compile(r"\{(\w+)\}")


def told(line: str) -> str:
    """A line of the recorder; what stands before its first colon, a file or a field, stays as it is."""
    said = _known(line)
    if said is None and ": " in line:
        where, _, what = line.partition(": ")
        return f"{where}: {told(what)}"
    return said if said is not None else line


def _known(line: str) -> str | None:
    for form, pattern in _patterns():
        match = pattern.fullmatch(line)
        if match:
            # What was typed stays as it was typed; what has a form of its own is said.
            return say(form, **{name: _known(value) or value for name, value in match.groupdict().items()})
    return None


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((form, _pattern(form)) for form in LINES)


def _pattern(form: str) -> re.Pattern[str]:
    text, *rest = _HOLE.split(form)
    pattern = re.escape(text)
    for name, text in zip(rest[::2], rest[1::2], strict=True):
        pattern += f"(?P<{name}>.*?){re.escape(text)}"
    return re.compile(pattern, re.DOTALL)
