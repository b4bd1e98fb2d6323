"""The measures of a judgement as JSON; part of `beadwatch.judgement/1`."""

from dataclasses import asdict

from logger.domain.measures import (
    DragMeasures,
    ExcursionSeen,
    Measures,
    PlateMeasures,
    Spread,
    StepMeasures,
)
from logger.domain.phase import Phase
from logger.wire.model import WireModel


class SpreadModel(WireModel):
    """Mean and extremes of the noise-free value."""

    mean: float
    least: float
    greatest: float


class ExcursionModel(WireModel):
    """One stretch outside the band; `since_contact_s` counts from the faces' first touch, null before it."""

    start_s: float
    end_s: float
    extreme_bar: float
    limit_bar: float
    since_contact_s: float | None


class StepMeasuresModel(WireModel):
    """One step of the plan over the stretch in which its pressure is judged; null where not to be had.

    At rest friction acts either way: the faces feel `interface_MPa` plus or minus `friction_MPa`.
    """

    phase: Phase
    step: int | None
    start_s: float
    end_s: float
    gauge_bar: SpreadModel
    mean_u_bar: float
    readings_effective: float
    interface_MPa: SpreadModel | None
    friction_MPa: float | None
    in_band_share: float | None
    longest_excursion_s: float | None
    area_outside_bar_s: float | None
    overshoot_bar: float | None
    leak_down_bar_per_min: float | None
    top_ups: int | None
    excursions: tuple[ExcursionModel, ...]


class PlateMeasuresModel(WireModel):
    """Plate temperature before contact and at removal, and its least value between."""

    at_contact_degC: float | None
    at_removal_degC: float | None
    least_degC: float | None
    heat: str = ""
    """"counting" (not through), "through", "warming", "not_observed", "no_reading", or "" where not asked."""
    heat_through_s: float | None = None
    """Time in the band before contact since the switch-on, or as far as it was seen."""


class DragMeasuresModel(WireModel):
    """Drag of the closing stroke before contact beside the confirmed one."""

    confirmed_bar: float | None
    detected_bar: float | None
    spread_bar: float | None
    breakaway_bar: float | None
    measured_at_s: float | None


class MeasuresModel(WireModel):
    """What a reviewer wants to know besides the verdict; none of it decides."""

    steps: tuple[StepMeasuresModel, ...]
    plate: PlateMeasuresModel
    drag: DragMeasuresModel


def measures_model(measures: Measures) -> MeasuresModel:
    return MeasuresModel.model_validate(asdict(measures))


def measures_value(model: MeasuresModel) -> Measures:
    return Measures(
        steps=tuple(_step(step) for step in model.steps),
        plate=PlateMeasures(**dict(model.plate)),
        drag=DragMeasures(**dict(model.drag)),
    )


def _step(model: StepMeasuresModel) -> StepMeasures:
    parts = {
        "gauge_bar": Spread(**dict(model.gauge_bar)),
        "interface_MPa": None if model.interface_MPa is None else Spread(**dict(model.interface_MPa)),
        "excursions": tuple(ExcursionSeen(**dict(one)) for one in model.excursions),
    }
    return StepMeasures(**(dict(model) | parts))
