"""Samples in, phases out: the whole detection of one trace."""

from collections.abc import Iterable
from dataclasses import dataclass

from logger.domain.judgement import Boundary, OtherJoint, PhaseSpan
from logger.domain.phase import PHASES
from logger.domain.rig import GaugeSide
from logger.domain.sample import Sample
from logger.phases.boundaries import spans_of
from logger.phases.levels import Hints, levels_of
from logger.phases.pattern import Cycle, cycles_of
from logger.phases.runs import high_runs
from logger.phases.series import Trace, trace_of
from logger.phases.view import View, view_of


@dataclass(frozen=True)
class Detection:
    """Phases of the last complete heating cycle (exactly one span per phase), and what else was seen."""

    trace: Trace
    view: View
    cycle: Cycle | None
    spans: tuple[PhaseSpan, ...]
    others: tuple[OtherJoint, ...]


def detect(samples: Iterable[Sample], hints: Hints, gauge_side: GaugeSide = GaugeSide.UNKNOWN) -> Detection:
    """Find the phases of a joint in its samples, with or without a plan."""
    trace = trace_of(samples)
    levels = levels_of(trace.pressure, hints)
    runs = high_runs(trace.pressure, levels)
    cycles = cycles_of(runs, trace, levels, hints)
    view = view_of(trace, levels, hints, gauge_side)
    if not cycles:
        nothing = Boundary(reason="no_heating_cycle")
        spans = tuple(PhaseSpan(phase=phase, start=nothing, end=nothing) for phase in PHASES)
        return Detection(trace, view, None, spans, ())
    chosen = next((cycle for cycle in reversed(cycles) if cycle.cooling is not None), cycles[-1])
    others = tuple(
        OtherJoint(start_s=cycle.bead_up.start_s, end_s=(cycle.cooling or cycle.bead_up).end_s)
        for cycle in cycles
        if cycle is not chosen
    )
    falls_s = [run.end_s for run in runs if not run.open_end]
    return Detection(trace, view, chosen, spans_of(chosen, view, falls_s), others)
