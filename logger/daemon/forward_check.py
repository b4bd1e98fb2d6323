"""A joint on a server against the record, point by point: samples, phases, findings, verdict, chain head."""

import math
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from logger.daemon.forward_source import points_of_joint
from logger.forward.lines import Value
from logger.forward.readback import Points, column
from logger.store.reader import Reader

TOLERANCE = 1e-9
"""Relative, and absolute near zero: VictoriaMetrics 1.79 gives some 12 digits back (seen in its export)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Counts of points of one joint: in the record, and what the server has of them and beyond them."""

    expected: int
    missing: int
    extra: int
    different: int

    @property
    def is_same(self) -> bool:
        return self.missing == self.extra == self.different == 0


def expected_points(store: Path, joint: str) -> tuple[str, Points]:
    """Return the uuid of a joint and every point that the record gives of it."""
    with Reader(store) as reader:
        record = reader.joint(joint)
    points: dict[str, dict[int, Value]] = defaultdict(dict)
    for _, point in points_of_joint(store, record)[1]:
        tag = "" if point.tag is None else point.tag[1]
        for field, value in point.fields.items():
            points[column(point.measurement, tag, field)][point.at_ms] = value
    return record.header.uuid, points


def compared(expected: Points, found: Points, *, with_texts: bool = True) -> Comparison:
    """Compare by column and millisecond; numbers are the same to `TOLERANCE`.

    Without `with_texts` columns of text are left out on both sides: for a server that keeps none.
    """
    texts = {name for name, values in expected.items() if isinstance(next(iter(values.values())), str)}
    left_out = set() if with_texts else texts
    missing = extra = different = 0
    for name in (expected.keys() | found.keys()) - left_out:
        wanted, there = expected.get(name, {}), found.get(name, {})
        missing += len(wanted.keys() - there.keys())
        extra += len(there.keys() - wanted.keys())
        different += sum(not _is_same(wanted[at_ms], there[at_ms]) for at_ms in wanted.keys() & there.keys())
    return Comparison(
        expected=sum(len(values) for name, values in expected.items() if name not in left_out),
        missing=missing,
        extra=extra,
        different=different,
    )


def _is_same(wanted: Value, there: Value) -> bool:
    if isinstance(wanted, str) or isinstance(there, str):
        return wanted == there
    return math.isclose(wanted, there, rel_tol=TOLERANCE, abs_tol=TOLERANCE)
