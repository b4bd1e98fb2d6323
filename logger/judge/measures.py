"""Measures of whole steps for the reviewer: the curve in figures; no verdict rests on them."""

from collections.abc import Iterator
from itertools import pairwise
from math import sqrt
from statistics import median

from logger.domain.band import Band
from logger.domain.measures import ExcursionSeen, Measures, Spread, StepMeasures
from logger.domain.phase import Phase
from logger.judge.budget import COUNTED_SHARE, mean_of
from logger.judge.case import VALUE_DIGITS, Case
from logger.judge.drag_rule import drag_measures
from logger.judge.excursions import Smooth, beyond, smoothed
from logger.judge.plate_rules import plate_measures
from logger.judge.windows import (
    FAST_AVERAGING_S,
    Curve,
    Stretch,
    ramp_and_return,
    stretch_of,
)
from logger.phases.series import Series

LEAK_BLOCK_S = 5.0
TOP_UP_SHARE = 0.02
"""Of the joining step: a rise by this much within a block or two is somebody pumping."""
LEAST_BLOCKS = 6
_BAR_PER_MPA = 10.0


def measures_of(case: Curve) -> Measures:
    """Measure every step whose stretch of the curve was seen."""
    return Measures(
        steps=tuple(_steps(case)),
        plate=plate_measures(case),
        drag=drag_measures(case.detection, case.plan.drag_pressure_bar),
    )


def _steps(case: Curve) -> Iterator[StepMeasures]:
    for stretch in (case.bead_up, case.soak, _build_up(case), *case.cooling):
        if stretch is not None and len(stretch.pressure):
            yield _step(case, stretch)


def _build_up(case: Case) -> Stretch | None:
    span = case.span(Phase.PRESSURE_BUILD_UP)
    if span.start.at_s is None or span.end.at_s is None:
        return None
    return stretch_of(case, case.step(Phase.PRESSURE_BUILD_UP), span.start.at_s, span.end.at_s)


def _step(case: Case, stretch: Stretch) -> StepMeasures:
    step, part = stretch.step, stretch.pressure
    is_ramp, is_cooling = step.phase is Phase.PRESSURE_BUILD_UP, step.phase is Phase.COOLING
    smooth = smoothed(part, FAST_AVERAGING_S) if is_ramp else stretch.smooth
    mean_bar, u_bar, count = mean_of(part.values)
    gauge = Spread(
        mean=_rounded(mean_bar),
        least=_rounded(min(smooth.series.values)),
        greatest=_rounded(max(smooth.series.values)),
    )
    band = Band() if is_ramp else step.gauge_pressure_bar
    excursions = _excursions(case, band, smooth)
    has_band = band.min is not None or band.max is not None
    leak, top_ups = _leak_down(part, case.detection.view.levels.step_bar) if is_cooling else (None, None)
    return StepMeasures(
        phase=step.phase,
        step=step.step,
        start_s=stretch.from_s,
        end_s=stretch.to_s,
        gauge_bar=gauge,
        mean_u_bar=round(u_bar, 4),
        readings_effective=round(count, 1),
        interface_MPa=_interface(case, gauge),
        friction_MPa=_friction_MPa(case),
        in_band_share=_in_band_share(band, smooth.series) if has_band else None,
        longest_excursion_s=max((one.end_s - one.start_s for one in excursions), default=0.0)
        if has_band
        else None,
        area_outside_bar_s=_area_outside(band, smooth) if has_band else None,
        overshoot_bar=_overshoot_bar(case) if is_ramp else None,
        leak_down_bar_per_min=leak,
        top_ups=top_ups,
        excursions=excursions,
    )


def _interface(case: Case, gauge: Spread) -> Spread | None:
    per_bar, drag_bar = _MPa_per_bar(case), case.plan.drag_pressure_bar
    if per_bar is None or drag_bar is None:
        return None
    mean, least, greatest = (
        round((bar - drag_bar) * per_bar, 5) for bar in (gauge.mean, gauge.least, gauge.greatest)
    )
    return Spread(mean=mean, least=least, greatest=greatest)


def _friction_MPa(case: Case) -> float | None:
    per_bar, drag_bar = _MPa_per_bar(case), case.plan.drag_pressure_bar
    return None if per_bar is None or drag_bar is None else round(drag_bar * per_bar, 5)


def _MPa_per_bar(case: Case) -> float | None:
    piston_mm2 = case.plan.piston_area_mm2
    return None if piston_mm2 is None else piston_mm2 / case.plan.pipe_area_mm2 / _BAR_PER_MPA


def _excursions(case: Case, band: Band, smooth: Smooth) -> tuple[ExcursionSeen, ...]:
    contact_s = case.span(Phase.PRESSURE_BUILD_UP).start.at_s
    found = [(band.min, beyond(smooth, low=band.min)), (band.max, beyond(smooth, high=band.max))]
    seen = [
        ExcursionSeen(
            start_s=one.start_s,
            end_s=one.end_s,
            extreme_bar=_rounded(one.extreme),
            limit_bar=limit_bar,
            since_contact_s=round(one.start_s - contact_s, 3)
            if contact_s is not None and one.start_s >= contact_s
            else None,
        )
        for limit_bar, excursions in found
        if limit_bar is not None
        for one in excursions
    ]
    return tuple(sorted(seen, key=lambda one: one.start_s))


def _in_band_share(band: Band, smooth: Series) -> float:
    low = float("-inf") if band.min is None else band.min
    high = float("inf") if band.max is None else band.max
    return round(sum(low <= bar <= high for bar in smooth.values) / len(smooth), 4)


def _area_outside(band: Band, smooth: Smooth) -> float:
    """Integral of what lies outside the band; a gap contributes nothing."""
    limit_s = 3 * smooth.series.interval_s
    area = 0.0
    readings = zip(smooth.series.t_s, smooth.series.values, strict=True)
    for (a_s, bar), (b_s, _) in pairwise(readings):
        below = 0.0 if band.min is None else band.min - bar
        above = 0.0 if band.max is None else bar - band.max
        if b_s - a_s <= limit_s:
            area += max(0.0, below, above) * (b_s - a_s)
    return round(area, 3)


def _overshoot_bar(case: Case) -> float | None:
    """How far the pressure shot past the joining target before it settled; 0 where it did not."""
    start_s, entered_s = case.span(Phase.PRESSURE_BUILD_UP).start.at_s, case.span(Phase.COOLING).start.at_s
    target_bar = case.step(Phase.COOLING).gauge_pressure_bar.target
    if start_s is None or entered_s is None or target_bar is None:
        return None
    smooth = smoothed(ramp_and_return(case, start_s, entered_s), FAST_AVERAGING_S)
    return _rounded(max(0.0, max(smooth.series.values, default=target_bar) - target_bar))


def _leak_down(part: Series, step_bar: float) -> tuple[float | None, int | None]:
    """Rate at which the pressure falls between top-ups, positive when falling, and how many rises."""
    blocks = _blocks(part)
    if len(blocks) < LEAST_BLOCKS:
        return None, None
    noise_bar = part.noise * sqrt(2 / max(1.0, COUNTED_SHARE * LEAK_BLOCK_S / part.interval_s))
    top_up_bar = max(TOP_UP_SHARE * step_bar, 6 * noise_bar)
    changes = [(t_b - t_a, b - a) for (t_a, a), (t_b, b) in pairwise(blocks)]
    top_ups, risen_bar, slopes = 0, 0.0, []
    for seconds, change_bar in [*changes, (LEAK_BLOCK_S, 0.0)]:
        if change_bar > top_up_bar / 2:
            risen_bar += change_bar
            continue
        top_ups += risen_bar > top_up_bar
        risen_bar = 0.0
        slopes.append(-change_bar / seconds * 60.0)
    return _rounded(median(slopes[:-1])) if slopes[:-1] else None, top_ups


def _blocks(part: Series) -> list[tuple[float, float]]:
    """Mean time and mean of the readings of each five seconds."""
    blocks: list[tuple[float, float]] = []
    begin = 0
    for k in range(1, len(part) + 1):
        if k == len(part) or part.t_s[k] - part.t_s[begin] >= LEAK_BLOCK_S:
            if k - begin > 1:
                t_s = (part.t_s[begin] + part.t_s[k - 1]) / 2
                blocks.append((t_s, sum(part.values[begin:k]) / (k - begin)))
            begin = k
    return blocks


def _rounded(value: float) -> float:
    return round(value, VALUE_DIGITS)
