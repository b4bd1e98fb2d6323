"""A joint on a server against the record, point by point."""

import math
from dataclasses import dataclass
from pathlib import Path

from logger.daemon.joint_files import recorded_rig
from logger.domain.scale import samples_of
from logger.forward.lines import sample_values, series_of
from logger.forward.readback import Points
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
    """Return the uuid of a joint and every point that its samples make."""
    with Reader(store) as reader:
        record = reader.joint(joint)
        raws = reader.samples(record.header.uuid)
    rig = recorded_rig(record)
    series = series_of(record, rig.name)
    points: dict[str, dict[int, float]] = {}
    for sample in samples_of(raws, rig):
        for name, value in sample_values(sample).items():
            points.setdefault(name, {})[series.at(sample.t_s)] = value
    return record.header.uuid, points


def compared(expected: Points, found: Points) -> Comparison:
    """Compare by field and millisecond; values are the same to `TOLERANCE`."""
    missing = extra = different = 0
    for name in expected.keys() | found.keys():
        wanted, there = expected.get(name, {}), found.get(name, {})
        missing += len(wanted.keys() - there.keys())
        extra += len(there.keys() - wanted.keys())
        different += sum(not _is_same(wanted[at_ms], there[at_ms]) for at_ms in wanted.keys() & there.keys())
    return Comparison(
        expected=sum(len(series) for series in expected.values()),
        missing=missing,
        extra=extra,
        different=different,
    )


def _is_same(wanted: float, there: float) -> bool:
    return math.isclose(wanted, there, rel_tol=TOLERANCE, abs_tol=TOLERANCE)
