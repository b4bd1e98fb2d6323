"""Curves over a plan as values: what a picture, a page or a terminal draws."""

from dataclasses import dataclass

from logger.domain.phase import Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One quantity of one joint, in pieces between its gaps; each piece is (time in s, value) in order."""

    name: str
    pieces: tuple[tuple[tuple[float, float], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """What the plan asks between two times; None where it leaves an edge open."""

    start_s: float
    end_s: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One quantity over time: its curves and what the plan asks of it."""

    title: str
    unit: str
    curves: tuple[Curve, ...]
    corridors: tuple[Corridor, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """The start of a phase; `phase` is None at the end of the last one."""

    at_s: float
    phase: Phase | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """Panels over one time axis, from `start_s` to `end_s` on the joint's own clock."""

    title: str
    start_s: float
    end_s: float
    panels: tuple[Panel, ...]
    markers: tuple[Marker, ...] = ()
