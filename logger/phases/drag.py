"""Drag as the strokes before bead-up show it: read off a slow steady closing stroke, online.

A stroke is a stretch of pressure between two rests. A drag is its plateau where it is short and steady, the
carriage is seen closing at one slow speed (or no carriage is fitted). A long stretch is facing: what was read
before it no longer counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from statistics import median

from logger.domain.sample import Sample

LEAST_BAR = 0.3
REST_SHARE = 0.25
"""A stroke is over when this far above the lowest pressure seen, as a share of its own, or by LEAST_BAR."""
FACING_S = 20.0
BREAKAWAY_S = 1.0
"""The first second of a stroke holds the peak that sets the carriage moving."""
TAIL_S = 0.5
PLATEAU_S = 2.0
STEADY_SHARE = 0.1
"""How far the two halves of a plateau, or of its movement, may differ."""
SPEED_SHARE = 0.4
FAST_MM_PER_S = 60.0
"""Faster strokes lose pressure in the hoses: their plateau is no drag."""
TRAVEL_MM = 5.0
REST_S = 0.5
BREAKAWAY_SHARE = 1.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Plateau:
    """What one stroke showed, gauge bar; `is_closing_seen` where the carriage was seen to close."""

    pressure_bar: float
    spread_bar: float
    breakaway_bar: float | None
    at_s: float
    is_closing_seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Strokes:
    """What is remembered of the strokes: the one under way, and the plateau that counts, None without one."""

    under_way: tuple[Sample, ...] = ()
    top_bar: float = 0.0
    lowest_bar: float = inf
    rest_since_s: float | None = None
    is_facing: bool = False
    counts: Plateau | None = None


def watch_strokes(state: Strokes, sample: Sample, smooth_bar: float) -> Strokes:
    """Take one sample of the time before bead-up.

    Args:
        state: what is remembered.
        sample: the next one.
        smooth_bar: gauge pressure now, without noise and spikes.

    Returns:
        The new state; `counts` is another plateau after a further drag stroke, None after facing. Where no
        carriage tells a stroke from a hold under pressure, the lowest plateau since facing counts.
    """
    if sample.pressure_bar is None:
        return replace(state, under_way=(*state.under_way, sample)) if state.under_way else state
    lowest_bar = min(state.lowest_bar, smooth_bar)
    top_bar = max(state.top_bar, smooth_bar)
    rest_bar = lowest_bar + max(LEAST_BAR, REST_SHARE * (top_bar - lowest_bar))
    if smooth_bar > rest_bar:
        return _moving(replace(state, top_bar=top_bar, lowest_bar=lowest_bar, rest_since_s=None), sample)
    if not state.under_way:
        return state if lowest_bar == state.lowest_bar else replace(state, lowest_bar=lowest_bar)
    rest_s = state.rest_since_s if state.rest_since_s is not None else sample.t_s
    if sample.t_s - rest_s < REST_S:
        return replace(state, lowest_bar=lowest_bar, rest_since_s=rest_s)
    seen = None if state.is_facing else _plateau(state.under_way)
    counts = state.counts
    if seen is not None and (
        counts is None or seen.is_closing_seen or seen.pressure_bar < counts.pressure_bar
    ):
        counts = seen
    return Strokes(lowest_bar=lowest_bar, counts=counts)


def _moving(state: Strokes, sample: Sample) -> Strokes:
    if state.is_facing:
        return state
    stroke = (*state.under_way, sample)
    if sample.t_s - stroke[0].t_s > FACING_S:
        return replace(state, under_way=(sample,), is_facing=True, counts=None)
    return replace(state, under_way=stroke)


def _plateau(stroke: Sequence[Sample]) -> Plateau | None:
    """Read the plateau of a whole stroke; None where it is no drag."""
    from_s, to_s = stroke[0].t_s + BREAKAWAY_S, stroke[-1].t_s - TAIL_S
    middle = [s for s in stroke if from_s <= s.t_s <= to_s]
    bars = [s.pressure_bar for s in middle if s.pressure_bar is not None]
    if to_s - from_s < PLATEAU_S or len(bars) < 4:
        return None
    level = median(bars)
    half = len(bars) // 2
    if abs(median(bars[:half]) - median(bars[half:])) > STEADY_SHARE * level:
        return None
    closes = _closes(middle)
    if closes is False:
        return None
    ordered = sorted(bars)
    tenth = len(ordered) // 10
    peak = max((s.pressure_bar for s in stroke if s.t_s < from_s and s.pressure_bar is not None), default=0.0)
    return Plateau(
        pressure_bar=round(level, 3),
        spread_bar=round(ordered[-1 - tenth] - ordered[tenth], 3),
        breakaway_bar=round(peak, 3) if peak > BREAKAWAY_SHARE * level else None,
        at_s=to_s,
        is_closing_seen=bool(closes),
    )


def _closes(middle: Sequence[Sample]) -> bool | None:
    """Whether the carriage closed at one slow speed all the way; None where no carriage is fitted."""
    places = [(s.t_s, s.carriage_mm) for s in middle if s.carriage_mm is not None]
    if len(places) < 4:
        return None
    half = len(places) // 2
    (t0, x0), (t1, x1), (t2, x2) = places[0], places[half], places[-1]
    first, second = (x0 - x1) / (t1 - t0), (x1 - x2) / (t2 - t1)
    steady = abs(first - second) <= SPEED_SHARE * max(first, second)
    return x0 - x2 >= TRAVEL_MM and steady and max(first, second) <= FAST_MM_PER_S
