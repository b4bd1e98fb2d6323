"""What a reviewer wants to know of each step of a joint besides its verdict; none of it decides."""

from dataclasses import dataclass

from logger.domain.phase import Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Mean and extremes of the noise-free value over a stretch."""

    mean: float
    least: float
    greatest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcursionSeen:
    """One stretch of gauge pressure outside its band; `since_contact_s` counts from the faces' first touch.

    `since_contact_s` is None before that touch, or where it was not seen.
    """

    start_s: float
    end_s: float
    extreme_bar: float
    limit_bar: float
    since_contact_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepMeasures:
    """Measures of one step of the plan over the stretch in which its pressure is judged.

    `interface_MPa` is (gauge - drag) x piston area / pipe area, never clamped; at rest friction acts either
    way, so the faces may feel that plus or minus `friction_MPa`. `area_outside_bar_s` is the time integral of
    what lies outside the band. `mean_u_bar` is the standard uncertainty of the mean, `readings_effective` the
    number of independent readings behind it. A measure is None where it could not be taken.
    """

    phase: Phase
    step: int | None
    start_s: float
    end_s: float
    gauge_bar: Spread
    mean_u_bar: float
    readings_effective: float
    interface_MPa: Spread | None = None
    friction_MPa: float | None = None
    in_band_share: float | None = None
    longest_excursion_s: float | None = None
    area_outside_bar_s: float | None = None
    overshoot_bar: float | None = None
    leak_down_bar_per_min: float | None = None
    top_ups: int | None = None
    excursions: tuple[ExcursionSeen, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateMeasures:
    """Plate temperature before contact, at removal, and its least value between; None where not seen."""

    at_contact_degC: float | None
    at_removal_degC: float | None
    least_degC: float | None
    heat: str = ""
    """What was seen of heat-through at contact, a `Heat`; empty where not asked or contact not seen."""
    heat_through_s: float | None = None
    """Time in the band before contact since the switch-on, or as far as it was seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DragMeasures:
    """Drag of the closing stroke before contact: plateau, its spread, and the peak that broke it away.

    `measured_at_s` is the middle of the stretch that was read; None where no flat plateau was seen.
    """

    confirmed_bar: float | None
    detected_bar: float | None
    spread_bar: float | None
    breakaway_bar: float | None
    measured_at_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """All measures of one joint."""

    steps: tuple[StepMeasures, ...]
    plate: PlateMeasures
    drag: DragMeasures
