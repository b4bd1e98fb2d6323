"""From samples and judgement to a figure: curves broken at their gaps, over the plan's corridors."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from logger.domain.figure import Corridor, Curve, Figure, Marker, Panel
from logger.domain.gap import longest_interval_s, median_interval_s
from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement, PhaseSpan
from logger.domain.phase import Phase
from logger.domain.sample import Sample

BEFORE_S, AFTER_S = 10.0, 15.0
"""How much of soak and cooling the picture of the changeover shows."""
PREPARATION_S = 30.0
"""How much of the preparation the picture of a joint shows; its strokes would dwarf the joint."""


def joint_figure(title: str, samples: Sequence[Sample], judgement: Judgement | None) -> Figure:
    """Pressure and plate temperature of one joint over its plan, from shortly before its bead-up if seen."""
    spans = judgement.phases if judgement else ()
    plan = judgement.plan if judgement else None
    samples = _of_joint(samples, judgement)
    return Figure(
        title=title,
        start_s=samples[0].t_s if samples else 0.0,
        end_s=samples[-1].t_s if samples else 1.0,
        panels=(
            Panel(
                title="gauge pressure",
                unit="bar",
                curves=(_curve("", ((s.t_s, s.pressure_bar) for s in samples)),),
                corridors=tuple(_pressure_corridors(spans, plan)),
            ),
            Panel(
                title="plate temperature",
                unit="°C",
                curves=(_curve("", ((s.t_s, s.plate_temperature_degC) for s in samples)),),
                corridors=tuple(_plate_corridors(spans, plan)),
            ),
        ),
        markers=tuple(_markers(spans)),
    )


def changeover_figure(title: str, whole: Figure) -> Figure | None:
    """The same from shortly before the changeover to shortly after joining; None where neither was seen."""
    starts = {marker.phase: marker.at_s for marker in whole.markers}
    opened = starts.get(Phase.CHANGEOVER, starts.get(Phase.PRESSURE_BUILD_UP))
    joined = starts.get(Phase.COOLING, starts.get(Phase.PRESSURE_BUILD_UP))
    if opened is None or joined is None:
        return None
    start_s, end_s = max(whole.start_s, opened - BEFORE_S), min(whole.end_s, joined + AFTER_S)
    pressure = whole.panels[0]
    curves = tuple(
        Curve(name=curve.name, pieces=tuple(_inside(curve, start_s, end_s))) for curve in pressure.curves
    )
    panel = Panel(title=pressure.title, unit=pressure.unit, curves=curves, corridors=pressure.corridors)
    markers = tuple(marker for marker in whole.markers if start_s <= marker.at_s <= end_s)
    return Figure(title=title, start_s=start_s, end_s=end_s, panels=(panel,), markers=markers)


def overlay_figure(
    title: str, joints: Sequence[tuple[str, Sequence[Sample], Judgement | None]], *, at: Phase
) -> Figure:
    """Several joints over one another, each with the start of `at` at 0 s; a joint without it is left out.

    The corridors are those of the first joint.
    """
    shifted = [
        (name, _of_joint(samples, judgement), judgement, start_s)
        for name, samples, judgement in joints
        if judgement and (start_s := _start_of(judgement, at)) is not None
    ]
    first = joint_figure(title, shifted[0][1], shifted[0][2]) if shifted else joint_figure(title, (), None)
    zero_s = shifted[0][3] if shifted else 0.0
    panels = []
    for panel, field in zip(first.panels, ("pressure_bar", "plate_temperature_degC"), strict=True):
        curves = tuple(
            _curve(name, ((s.t_s - start_s, getattr(s, field)) for s in samples))
            for name, samples, _, start_s in shifted
        )
        corridors = tuple(
            Corridor(start_s=c.start_s - zero_s, end_s=c.end_s - zero_s, low=c.low, high=c.high)
            for c in panel.corridors
        )
        panels.append(Panel(title=panel.title, unit=panel.unit, curves=curves, corridors=corridors))
    return Figure(
        title=title,
        start_s=min((samples[0].t_s - start_s for _, samples, _, start_s in shifted), default=0.0),
        end_s=max((samples[-1].t_s - start_s for _, samples, _, start_s in shifted), default=1.0),
        panels=tuple(panels),
        markers=tuple(Marker(at_s=m.at_s - zero_s, phase=m.phase) for m in first.markers),
    )


def _of_joint(samples: Sequence[Sample], judgement: Judgement | None) -> Sequence[Sample]:
    """From shortly before the bead-up on, where that was seen."""
    bead_up_s = _start_of(judgement, Phase.BEAD_UP) if judgement else None
    if bead_up_s is None:
        return samples
    return [sample for sample in samples if sample.t_s >= bead_up_s - PREPARATION_S]


def _curve(name: str, points: Iterable[tuple[float, float | None]]) -> Curve:
    known = [(t_s, value) for t_s, value in points if value is not None]
    if len(known) < 2:
        return Curve(name=name, pieces=(tuple(known),) if known else ())
    longest_s = longest_interval_s(median_interval_s([t_s for t_s, _ in known]))
    pieces: list[list[tuple[float, float]]] = [[known[0]]]
    for before, point in pairwise(known):
        if point[0] - before[0] > longest_s:
            pieces.append([])
        pieces[-1].append(point)
    return Curve(name=name, pieces=tuple(tuple(piece) for piece in pieces))


def _inside(curve: Curve, start_s: float, end_s: float) -> Iterable[tuple[tuple[float, float], ...]]:
    for piece in curve.pieces:
        part = tuple(point for point in piece if start_s <= point[0] <= end_s)
        if part:
            yield part


def _markers(spans: Iterable[PhaseSpan]) -> Iterable[Marker]:
    last: PhaseSpan | None = None
    for span in spans:
        if span.start.at_s is not None:
            yield Marker(at_s=span.start.at_s, phase=span.phase)
        last = span
    if last is not None and last.end.at_s is not None:
        yield Marker(at_s=last.end.at_s, phase=None)


def _pressure_corridors(spans: Iterable[PhaseSpan], plan: JointPlan | None) -> Iterable[Corridor]:
    """Where a cooling has several steps, each lasts as long as its minimum, the last one to the end."""
    for span in spans:
        steps = plan.steps_of(span.phase) if plan else ()
        start_s, end_s = span.start.at_s, span.end.at_s
        if start_s is None or end_s is None:
            continue
        for number, step in enumerate(steps, 1):
            lasts_s = end_s - start_s if number == len(steps) else step.duration_s.min or 0.0
            until_s = min(end_s, start_s + lasts_s)
            gauge = step.gauge_pressure_bar
            if gauge.min is not None or gauge.max is not None:
                yield Corridor(start_s=start_s, end_s=until_s, low=gauge.min, high=gauge.max)
            start_s = until_s


def _plate_corridors(spans: Iterable[PhaseSpan], plan: JointPlan | None) -> Iterable[Corridor]:
    """The plate's band holds up to the end of the soak."""
    if plan is None or not plan.plate_temperature_degC.is_given:
        return
    band = plan.plate_temperature_degC
    for span in spans:
        heated = span.phase in (Phase.BEAD_UP, Phase.HEAT_SOAK)
        if heated and span.start.at_s is not None and span.end.at_s is not None:
            yield Corridor(start_s=span.start.at_s, end_s=span.end.at_s, low=band.min, high=band.max)


def _start_of(judgement: Judgement, phase: Phase) -> float | None:
    return next((span.start.at_s for span in judgement.phases if span.phase is phase), None)
