"""Which limits of a plan this rig and its sensors can decide, and the smallest pipe they can."""

import math
from collections.abc import Iterator

from logger.domain.band import Band
from logger.domain.channel import Channel, Quantity
from logger.domain.decidable import DecidableLimit, LimitQuantity
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.phase import Phase
from logger.domain.rig import Rig

COVERAGE_K = 1.645
"""Guard band in standard uncertainties: 95 % one-sided (ISO 14253-1), the decision rule of the judgement.

It is that of a limit which alone comes near its edge; the 5 % are the whole joint's, so several share them.
Sampling alone has no long tails, so a duration keeps it here too, on the safe side of the judgement's 1.359.
"""

_BAR_PER_MPA = 10.0


def decidable_limits(plan: JointPlan, rig: Rig) -> tuple[DecidableLimit, ...]:
    """Return every limit of the plan with its room and the guard band of the sensor that judges it."""
    return tuple(_limits(plan, rig))


def _limits(plan: JointPlan, rig: Rig) -> Iterator[DecidableLimit]:
    pressure = rig.channel_of(Quantity.PRESSURE)
    pressure_guard = _guard(pressure)
    time_guard = None if pressure is None else COVERAGE_K / pressure.rate_hz / math.sqrt(6)
    plate = plan.plate_temperature_degC
    if plate.is_given:
        yield DecidableLimit(
            phase=None,
            quantity=LimitQuantity.PLATE_TEMPERATURE,
            unit="degC",
            room=_half_width(plate),
            guard=_guard(rig.channel_of(Quantity.PLATE_TEMPERATURE)),
        )
    for step in plan.steps:
        room_MPa = _room_MPa(step)
        if room_MPa is not None:
            yield _pressure_limit(step, plan, room_MPa, pressure_guard)
        duration = step.duration_s
        if duration.min is not None or duration.max is not None:
            yield DecidableLimit(
                phase=step.phase,
                step=step.step,
                quantity=LimitQuantity.DURATION,
                unit="s",
                room=_half_width(duration)
                if None not in (duration.min, duration.max)
                else _only_edge(duration),
                guard=time_guard,
            )


def _pressure_limit(step: PlanStep, plan: JointPlan, room_MPa: float, guard: float | None) -> DecidableLimit:
    piston_area = plan.piston_area_mm2
    room = None if piston_area is None else room_MPa * _BAR_PER_MPA * plan.pipe_area_mm2 / piston_area
    smallest = None
    if guard is not None and piston_area is not None:
        area = guard * piston_area / (_BAR_PER_MPA * room_MPa)
        smallest = _diameter_of_area_mm(area, plan.outside_diameter_mm / plan.wall_mm)
    return DecidableLimit(
        phase=step.phase,
        step=step.step,
        quantity=LimitQuantity.PRESSURE,
        unit="bar",
        room=room,
        guard=guard,
        smallest_diameter_mm=smallest,
    )


def _room_MPa(step: PlanStep) -> float | None:
    """Return half the band, or for heat soak what the limit leaves above drag; None without a band."""
    band = step.interface_pressure_MPa
    if step.phase is Phase.HEAT_SOAK:
        return band.max
    return _half_width(band)


def _half_width(band: Band) -> float | None:
    return None if band.min is None or band.max is None else (band.max - band.min) / 2


def _only_edge(band: Band) -> float | None:
    return band.max if band.min is None else band.min


def _guard(channel: Channel | None) -> float | None:
    """Return the guard band of one reading, None without a declared uncertainty; resolution is included."""
    if channel is None or channel.standard_uncertainty is None:
        return None
    return COVERAGE_K * math.hypot(channel.standard_uncertainty, channel.resolution / math.sqrt(12))


def _diameter_of_area_mm(area_mm2: float, sdr: float) -> float:
    """Return the outside diameter whose end area at `sdr` is `area_mm2`."""
    return sdr * math.sqrt(area_mm2 / (math.pi * (sdr - 1)))
