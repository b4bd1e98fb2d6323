"""Control charts in words and columns of text."""

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Protocol

NAMES = {
    "drag_bar": ("drag read off the curve", "bar"),
    "plate_at_contact_degC": ("plate at contact", "degC"),
    "changeover_s": ("changeover", "s"),
    "pressure_build_up_s": ("pressure build-up", "s"),
    "leak_down_bar_per_min": ("leak-down in cooling", "bar/min"),
}
SIGNALS = {
    "": "",
    "jump": "OUTSIDE: this joint stands apart",
    "drift": "DRIFT: the weighted mean has left its limits",
}
LAST = 12
METHOD = (
    "Limits: 3 sigma from the moving range of the first joints, and of the exponentially weighted mean "
    "(NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2; from memory). They show drift, not conformity."
)


class Point(Protocol):
    @property
    def value(self) -> float: ...

    @property
    def ewma(self) -> float: ...

    @property
    def signal(self) -> str: ...


class Charted(Protocol):
    """The chart as drawn: its limits and points in the order of time."""

    @property
    def centre(self) -> float: ...

    @property
    def low(self) -> float: ...

    @property
    def high(self) -> float: ...

    @property
    def points(self) -> Sequence[Point]: ...


def chart_lines(group: str, what: str, joints: Sequence[str], chart: Charted) -> list[str]:
    """Head, the last joints and every one that gave a signal, then how it was reckoned."""
    name, unit = NAMES[what]
    head = f"{group}: {name}, {unit}; centre {chart.centre:.3g}, limits {chart.low:.3g} to {chart.high:.3g}"
    return [head, *_rows(joints, chart), METHOD, ""]


def few_text(group: str, what: str, count: int) -> str:
    name, _ = NAMES[what]
    return f"{group}: {name}: {count} joints show it, too few for limits"


def _rows(joints: Sequence[str], chart: Charted) -> Iterator[str]:
    first = max(0, len(joints) - LAST)
    rows = zip(joints, chart.points, strict=True)
    for joint, point in islice(rows, first):
        if point.signal:
            yield _row(joint, point)
    for joint, point in zip(joints[first:], chart.points[first:], strict=True):
        yield _row(joint, point)


def _row(joint: str, point: Point) -> str:
    return f"  {joint:20} {point.value:10.3f}  mean {point.ewma:10.3f}  {SIGNALS[point.signal]}".rstrip()
