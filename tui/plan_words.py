"""A plan, a checklist's limits and times in the operator's words and units. Pure."""

import math

from logger.domain.band import Band
from logger.domain.joint_plan import JointPlan, Notice, PlanStep
from logger.domain.notices import CautionCode
from logger.domain.phase import Phase
from logger.domain.procedure import CoolingEndKind
from logger.domain.source import Mark
from logger.wording.events import PHASE_NAMES
from logger.wording.notices import text_of
from logger.wording.plan_text import MARK_TEXT
from logger.wording.units import Units
from tui.catalogue import caption, tr
from tui.numbers import band_text, number, seconds

_MINUTES_S = 100.0


def plan_lines(plan: JointPlan, units: Units) -> list[str]:
    """The plan in short: a line for each step with time and pressure."""
    band = plan.plate_temperature_degC
    plate = limits_text(band, "°C", 0)
    return [tr("plate: {limits}", limits=plate), *(_step_line(step, units) for step in plan.steps)]


def _step_line(step: PlanStep, units: Units) -> str:
    gauge, interface = step.gauge_pressure_bar, step.interface_pressure_MPa
    parts = [duration_text(step.duration_s)]
    if gauge.is_given:
        parts.append(f"{band_text(gauge.min, gauge.max, units)} {units.pressure}")
    elif interface.is_given:
        parts.append(tr("{limits} at the faces", limits=limits_text(interface, "N/mm2", 3)))
    elif step.phase is Phase.HEAT_SOAK:
        parts.append(tr("drag or less"))
    return tr("{phase}: {limits}", phase=tr(PHASE_NAMES[step.phase]), limits="; ".join(parts))


def duration_text(band: Band) -> str:
    """Least and greatest time; who keeps what is shown keeps the limit."""
    low = None if band.min is None else seconds(_up(band.min, 0))
    # Whole seconds where minutes are shown.
    high = None if band.max is None else seconds(_down(band.max, 0 if band.max >= _MINUTES_S else 1), 1)
    return _edges(low, high) or caption("not given")


def limits_text(band: Band, unit: str, digits: int) -> str:
    """A limit in its own unit, rounded to its safe side; the target where there is no edge."""
    low = None if band.min is None else number(_up(band.min, digits), digits)
    high = None if band.max is None else number(_down(band.max, digits), digits)
    edges = _edges(low, high)
    if edges:
        return f"{edges} {unit}"
    return caption("not given") if band.target is None else f"{number(band.target, digits)} {unit}"


def _edges(low: str | None, high: str | None) -> str:
    if low is not None and high is not None:
        return caption("{low} to {high}", low=low, high=high)
    if high is not None:
        return caption("at most {high}", high=high)
    return "" if low is None else caption("at least {low}", low=low)


def _up(value: float, digits: int) -> float:
    # Rounded first: a limit that is a round number must not move for its last binary digit.
    return math.ceil(round(value * 10.0**digits, 6)) / 10.0**digits


def _down(value: float, digits: int) -> float:
    return math.floor(round(value * 10.0**digits, 6)) / 10.0**digits


def source_text(source: str, mark: str) -> str:
    """Where a limit comes from and how sure that is."""
    words = tr(MARK_TEXT[Mark(mark)])
    return tr("Source: {source} ({mark})", source=source or tr("none"), mark=words)


def caution_text(code: str) -> str:
    """The caution in the operator's language; a code that is not known here as it is."""
    return text_of(Notice(code=code)) if code in set(CautionCode) else code


def do_not_lines(plan: JointPlan) -> list[str]:
    """How long the joint must not be lifted or tested, counted from the release."""
    texts = {
        CoolingEndKind.OUT_OF_CLAMPS: tr("DO NOT LIFT OR PULL before: {when}"),
        CoolingEndKind.PRESSURE_TEST: tr("DO NOT PRESSURE-TEST before: {when}"),
    }
    given = {end.kind: end.duration_s for end in plan.cooling_ends if end.duration_s.is_given}
    unknown = tr("the time in your own rules; this procedure gives none")
    return [
        text.format(
            when=tr("{time} after the release", time=duration_text(given[kind])) if kind in given else unknown
        )
        for kind, text in texts.items()
    ]
