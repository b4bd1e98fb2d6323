"""Whether the faces met, stayed together and were pressed: what the carriage and the plate switch show.

Gauge pressure is not force at the faces. Without a carriage sensor nothing here is judged, and the record
says that contact was not observed.
"""

from bisect import bisect_left
from dataclasses import dataclass

from logger.domain.judgement import Finding, Severity
from logger.domain.phase import Phase
from logger.domain.source import Mark, Source
from logger.judge.case import NOTHING, Case, Outcome, clause_of
from logger.judge.excursions import smoothed
from logger.phases.series import Series

NOT_OBSERVED = "contact.force.not_observed"
AVERAGING_S = 0.5
PARTED_MM = 1.0
"""Melt gives and springs back by tenths; a face that has come free stands further off. A choice."""
SHORT_MM = 1.0
MOVED_MM = 3.0
TOUCHING_MM = 0.5
STILL_MM = 0.1
"""A bead squeezes the ends together by more than this, however small the pipe. A choice."""
SETTLING_S = 1.0
EDGE_S = 0.5

KEPT = Source(
    mark=Mark.PRACTICE, text="ends that have begun to melt stay in contact until the joint has cooled"
)
PRESSED = Source(
    mark=Mark.PRACTICE, text="pressure without travel may press a stop, a slipping clamp or a snag"
)


@dataclass(frozen=True)
class Parting:
    """The faces apart between two times, at most by `opening_mm`."""

    start_s: float
    end_s: float
    opening_mm: float


def contact(case: Case) -> Outcome:
    """All that the carriage shows; nothing where it is not fitted or did not move."""
    if not carriage_moves(case):
        return NOTHING
    return _lost_in_soak(case) + _closed_twice(case) + _travel(case)


def carriage_moves(case: Case) -> bool:
    """Whether the carriage was seen to open in the changeover: it is fitted and alive."""
    start_s, end_s = case.span(Phase.CHANGEOVER).start.at_s, case.span(Phase.CHANGEOVER).end.at_s
    if start_s is None or end_s is None:
        return False
    way = case.detection.trace.carriage.window(start_s - EDGE_S, end_s + EDGE_S).values
    return len(way) >= 8 and max(way) - way[0] >= MOVED_MM


def partings(carriage: Series) -> tuple[Parting, ...]:
    """Stretches in which the opening stands above its least value so far, and then comes back."""
    smooth = smoothed(carriage, AVERAGING_S).series
    found: list[Parting] = []
    least = float("inf")
    begin_s, most = 0.0, 0.0
    for t_s, mm in zip(smooth.t_s, smooth.values, strict=True):
        opening = mm - least
        least = min(least, mm)
        if opening > PARTED_MM:
            begin_s, most = (begin_s, max(most, opening)) if most else (t_s, opening)
        elif most:
            found.append(Parting(begin_s, t_s, most))
            most = 0.0
    return tuple(found)


def _lost_in_soak(case: Case) -> Outcome:
    start_s, end_s = case.span(Phase.BEAD_UP).start.at_s, case.span(Phase.HEAT_SOAK).end.at_s
    if start_s is None or end_s is None:
        return NOTHING
    seen = partings(case.detection.trace.carriage.window(start_s + SETTLING_S, end_s - EDGE_S))
    return _faults("heat_soak.contact.lost", seen)


def _closed_twice(case: Case) -> Outcome:
    """From the first time the faces stood where they touch: apart and together again before cooling ends."""
    opened_s, touch_s = case.span(Phase.CHANGEOVER).start.at_s, case.span(Phase.PRESSURE_BUILD_UP).start.at_s
    cooling = case.span(Phase.COOLING)
    carriage = case.detection.trace.carriage
    if opened_s is None or touch_s is None:
        return NOTHING
    touching = reading_at(carriage, touch_s + SETTLING_S)
    until_s = cooling.end.at_s if cooling.end.at_s is not None else case.detection.trace.end_s
    way = carriage.window(opened_s + EDGE_S, until_s)
    if touching is None:
        return NOTHING
    met = (k for k, mm in enumerate(way.values) if mm <= touching + TOUCHING_MM)
    first = next(met, len(way))
    return _faults(
        "pressure_build_up.contact.repeated", partings(Series(way.t_s[first:], way.values[first:]))
    )


def _travel(case: Case) -> Outcome:
    """The ends give way while a bead grows, and come closer once the plate is out."""
    carriage = case.detection.trace.carriage
    bead_up, soak, touch = (
        case.span(phase).start.at_s for phase in (Phase.BEAD_UP, Phase.HEAT_SOAK, Phase.PRESSURE_BUILD_UP)
    )
    out_s = case.span(Phase.CHANGEOVER).start.at_s
    outcome = NOTHING
    if bead_up is not None and soak is not None:
        before, after = reading_at(carriage, bead_up + SETTLING_S), reading_at(carriage, soak - EDGE_S)
        if before is not None and after is not None and before - after < STILL_MM:
            finding = contact_finding("bead_up.travel.none", before - after, bead_up, soak, PRESSED)
            outcome += Outcome(findings=(finding,))
    if out_s is not None and touch is not None:
        heated, joined = reading_at(carriage, out_s - 2 * EDGE_S), reading_at(carriage, touch + SETTLING_S)
        if heated is not None and joined is not None and heated - joined < SHORT_MM:
            finding = contact_finding(
                "pressure_build_up.travel.short", heated - joined, touch, None, PRESSED, is_fault=True
            )
            outcome += Outcome(findings=(finding,))
    return outcome


def _faults(code: str, seen: tuple[Parting, ...]) -> Outcome:
    return Outcome(
        findings=tuple(
            contact_finding(code, one.opening_mm, one.start_s, one.end_s, KEPT, is_fault=True)
            for one in seen[:1]
        )
    )


def contact_finding(
    code: str,
    mm: float | None,
    start_s: float,
    end_s: float | None,
    source: Source,
    *,
    is_fault: bool = False,
) -> Finding:
    return Finding(
        code=code,
        severity=Severity.FAULT if is_fault else Severity.REMARK,
        measured=None if mm is None else round(mm, 3),
        limit=None,
        unit="" if mm is None else "mm",
        start_s=start_s,
        end_s=end_s,
        clause=clause_of(source),
    )


def reading_at(series: Series, at_s: float) -> float | None:
    """The reading nearest after `at_s`, within a second; None where there is none."""
    k = bisect_left(series.t_s, at_s)
    return series.values[k] if k < len(series) and series.t_s[k] - at_s <= 1.0 else None
