"""The boundaries of a joint in progress, placed by the fit that judges, on the seconds around them.

The whole curve is not there yet: a boundary may move when the rest has been seen, and each call says again
what the readings so far allow.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from logger.domain.judgement import Boundary
from logger.domain.phase import Phase
from logger.domain.rig import GaugeSide
from logger.domain.sample import Sample
from logger.phases.boundaries import spans_of
from logger.phases.changeover import changeover_start
from logger.phases.lag import ANY_LAG
from logger.phases.levels import Hints, Levels
from logger.phases.pattern import Cycle
from logger.phases.runs import Run
from logger.phases.series import trace_of
from logger.phases.view import View, view_of

BEFORE_S = 14.0
AFTER_S = 9.0
CHANGEOVER_BEFORE_S = 62.0
MOST_RATE_HZ = 25.0
"""Faster sampling is thinned: the fit that judges takes every reading, this one must not hold up sampling."""

Between = Callable[[float, float], Sequence[Sample]]
"""Samples of the joint between two times in seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """What the tracker knows of a joint in progress: when each phase was seen to begin, all provisional.

    `released_s` is the end of cooling, None while it lasts.
    """

    starts_s: Mapping[Phase, float]
    now_s: float
    released_s: float | None = None


def refined(
    sketch: Sketch, between: Between, levels: Levels, hints: Hints, gauge_side: GaugeSide
) -> dict[tuple[Phase, str], Boundary]:
    """Place the latest boundaries of `sketch`: by (phase, "start" or "end").

    The latest phase decides which: from pressure build-up on, changeover and touch are placed again with it,
    since each of them is seen against the other.
    """
    starts = sketch.starts_s
    let_down_s = starts.get(Phase.HEAT_SOAK, starts.get(Phase.CHANGEOVER, inf))
    bead_up = Run(starts.get(Phase.BEAD_UP, -inf), let_down_s)

    def view_between(*windows: tuple[float, float]) -> View:
        samples = [sample for window in windows for sample in between(*window)]
        # A soak of a few seconds is the most there may be yet: its planned length says nothing here.
        return view_of(trace_of(_thinned(samples)), levels, replace(hints, soak_s=None), gauge_side)

    if sketch.released_s is not None:
        view = view_between((sketch.released_s - BEFORE_S, sketch.now_s))
        cooling = Run(-inf, sketch.released_s)
        return {(Phase.COOLING, "end"): spans_of(Cycle(bead_up, cooling), view)[-1].end}
    latest = max(starts, key=tuple(Phase).index)
    if latest is Phase.BEAD_UP:
        view = view_between((bead_up.start_s - BEFORE_S, sketch.now_s))
        return {(latest, "start"): spans_of(Cycle(bead_up, None), view)[0].start}
    if latest is Phase.HEAT_SOAK:
        view = view_between((let_down_s - BEFORE_S, sketch.now_s))
        return {(latest, "start"): spans_of(Cycle(bead_up, None), view)[1].start}
    left_s = starts.get(Phase.CHANGEOVER, sketch.now_s)
    if latest is Phase.CHANGEOVER:
        view = view_between((left_s - CHANGEOVER_BEFORE_S, sketch.now_s))
        return {(latest, "start"): changeover_start(view, let_down_s, sketch.now_s, ANY_LAG)}
    return _closing(sketch, bead_up, view_between)


def _closing(
    sketch: Sketch, bead_up: Run, view_between: Callable[..., View]
) -> dict[tuple[Phase, str], Boundary]:
    """Changeover, touch and start of cooling; the let-down is looked at again for the lag that it tells."""
    starts = sketch.starts_s
    rise_s = starts.get(Phase.PRESSURE_BUILD_UP, starts.get(Phase.COOLING, sketch.now_s))
    from_s = rise_s - CHANGEOVER_BEFORE_S
    windows = [(from_s, sketch.now_s)]
    if bead_up.end_s < from_s:
        windows.insert(0, (bead_up.end_s - BEFORE_S, min(bead_up.end_s + AFTER_S, from_s)))
    cycle = Cycle(bead_up, Run(rise_s, sketch.now_s, open_end=True))
    spans = spans_of(cycle, view_between(*windows))
    return {(span.phase, "start"): span.start for span in spans[2:] if span.phase in starts}


def _thinned(samples: Sequence[Sample]) -> Sequence[Sample]:
    timed = [sample for sample in samples if sample.pressure_bar is not None]
    if len(timed) < 2:
        return samples
    span_s = timed[-1].t_s - timed[0].t_s
    every = int(len(timed) / span_s / MOST_RATE_HZ) if span_s > 0 else 1
    return samples if every < 2 else _every(samples, every)


def _every(samples: Sequence[Sample], every: int) -> list[Sample]:
    """Every n-th pressure, and all that came in polls of other channels."""
    kept = []
    count = 0
    for sample in samples:
        if sample.pressure_bar is None:
            kept.append(sample)
            continue
        if count % every == 0:
            kept.append(sample)
        count += 1
    return kept
