"""The plan as plain text, every value with its unit, its source and its mark, in at most 100 columns."""

import math
import textwrap
from collections.abc import Callable, Iterable

from logger.domain.band import Band
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.phase import Phase
from logger.domain.procedure import CoolingEndKind, PreparationLimit
from logger.domain.source import Mark, Source
from logger.wording.findings import SUBJECTS
from logger.wording.language import decimal_sign, say
from logger.wording.notices import PREPARATION_TEXTS, text_of
from logger.wording.units import METRIC, Units

COLUMNS = 100
MARK_TEXT: dict[Mark, str] = {
    Mark.SEEN: "seen",
    Mark.MEMORY: "from memory: check against your own copy",
    Mark.PRACTICE: "common practice, no source",
    Mark.COMPUTED: "computed",
    Mark.GIVEN: "given",
    Mark.NOT_GIVEN: "not given",
}
END_TEXT: dict[CoolingEndKind, str] = {
    CoolingEndKind.IN_MACHINE: "stay clamped",
    CoolingEndKind.OUT_OF_CLAMPS: "do not lift",
    CoolingEndKind.PRESSURE_TEST: "do not test",
}
_LABEL, _VALUE = 16, 37
_LONG_S = 120.0


def plan_lines(plan: JointPlan, units: Units = METRIC) -> list[str]:
    """Return the plan line by line; sources are numbered and listed after the steps, cautions come last."""
    notes = _Sources()
    lines = [*_wrapped(f"{plan.title}  [{plan.procedure}]"), *_given(plan, units), ""]
    degrees = units.temperature
    lines += notes.line(
        "plate surface",
        band_text(plan.plate_temperature_degC, degrees, units.temperature_of, 0),
        plan.plate_temperature_degC.source,
    )
    if plan.heat_through_s.is_given:
        lines += notes.line("heat-through", duration_text(plan.heat_through_s), plan.heat_through_s.source)
    for step in plan.steps:
        lines += ["", _heading(step), *_step_lines(step, plan, units, notes)]
    lines += ["", "After the pressure is off"]
    for end in plan.cooling_ends:
        lines += notes.line(END_TEXT[end.kind], duration_text(end.duration_s), end.duration_s.source)
    lines += ["", "Before the plate goes in"]
    for check in plan.preparation:
        lines += _preparation_lines(check, units, notes)
    lines += ["", "Sources", *notes.list()]
    if plan.notes:
        lines += ["", "Notes", *_bullets(plan.notes)]
    if plan.remarks:
        lines += ["", "Remarks", *_bullets(text_of(remark) for remark in plan.remarks)]
    lines += ["", "Cautions", *_bullets(text_of(caution) for caution in plan.cautions)]
    return lines


def mark_text(source: Source) -> str:
    """Return the words that stand beside a value."""
    return MARK_TEXT[source.mark]


def band_text(band: Band, unit: str, convert: Callable[[float], float], digits: int) -> str:
    """Return `210 to 230 degC, target 220`, `at least ...`, `at most ...` or `not given`.

    A lower edge is rounded up and an upper edge down: who keeps the print keeps the limit.
    """
    low = None if band.min is None else _digits(convert(band.min), digits, math.ceil)
    high = None if band.max is None else _digits(convert(band.max), digits, math.floor)
    target = None if band.target is None else _digits(convert(band.target), digits, round)
    if low is not None and high is not None:
        edges = say("{low} to {high} {unit}", low=low, high=high, unit=unit)
    elif low is not None:
        edges = say("at least {low} {unit}", low=low, unit=unit)
    elif high is not None:
        edges = say("at most {high} {unit}", high=high, unit=unit)
    else:
        return say("not given") if target is None else f"{target} {unit}"
    is_edge = band.target in (None, band.min, band.max)
    return edges if is_edge else say("{limits}, target {target}", limits=edges, target=target)


def _digits(value: float, digits: int, rounded: Callable[[float], int]) -> str:
    scale = 10**digits
    text = f"{rounded(round(value * scale, 6)) / scale:.{digits}f}"
    return text.replace(".", decimal_sign())


def duration_text(band: Band) -> str:
    """Return a duration, above two minutes with minutes beside the seconds."""
    text = band_text(band, "s", float, 0 if _longest_s(band) >= _LONG_S else 1)
    longest = _longest_s(band)
    if longest < _LONG_S or (band.min is not None and band.max is not None):
        return text
    minutes, seconds = divmod(math.ceil(longest) if band.max is None else math.floor(longest), 60)
    return say("{time} ({minutes} min {seconds:02d} s)", time=text, minutes=minutes, seconds=seconds)


def _longest_s(band: Band) -> float:
    return max((edge for edge in (band.min, band.target, band.max) if edge is not None), default=0.0)


def _given(plan: JointPlan, units: Units) -> list[str]:
    length, area = units.length, units.area
    digits = 2 if length == "mm" else 3
    sdr = "" if plan.sdr is None else f", SDR {plan.sdr:g}"
    piston, drag, ambient = plan.piston_area_mm2, plan.drag_pressure_bar, plan.ambient_temperature_degC
    rig = (
        "not known" if piston is None else f"{units.area_of(piston):.2f} {area}",
        "not measured" if drag is None else f"{units.gauge_of(drag):.1f} {units.pressure}",
        "not given" if ambient is None else f"{units.temperature_of(ambient):.1f} {units.temperature}",
    )
    return [
        f"{'pipe':<{_LABEL}}{plan.material}, dn {units.length_of(plan.outside_diameter_mm):g} {length}, "
        f"wall {units.length_of(plan.wall_mm):.{digits}f} {length} ({plan.wall_rule}{sdr})",
        f"{'':<{_LABEL}}end area {units.area_of(plan.pipe_area_mm2):.2f} {area}, "
        f"joining force {plan.joining_force_N:.0f} N",
        f"{'rig':<{_LABEL}}piston area {rig[0]}, drag {rig[1]}, ambient {rig[2]}",
    ]


def _preparation_lines(check: PreparationLimit, units: Units, notes: "_Sources") -> list[str]:
    digits = 1 if units.length == "mm" else 2
    limit = (
        band_text(check.limit_mm, units.length, units.length_of, digits) if check.limit_mm.is_given else ""
    )
    text = PREPARATION_TEXTS[check.code].format(limit=limit)
    return _wrapped(f"{text} {notes.reference(check.source)}", "  - ", "    ")


def _heading(step: PlanStep) -> str:
    name = SUBJECTS[step.phase].capitalize()
    return name if step.step is None else f"{name}, step {step.step}"


def _step_lines(step: PlanStep, plan: JointPlan, units: Units, notes: "_Sources") -> list[str]:
    lines: list[str] = []
    gauge, interface = step.gauge_pressure_bar, step.interface_pressure_MPa
    is_soak_at_drag = step.phase is Phase.HEAT_SOAK and not plan.soak_limit_includes_drag
    if gauge.is_given:
        lines += notes.line("gauge", band_text(gauge, units.pressure, units.gauge_of, 1), gauge.source)
    elif is_soak_at_drag:
        lines += notes.line("gauge", "drag or less", plan.soak_limit_source)
    digits = 3 if units.interface == "N/mm2" else 1
    lines += notes.line(
        "interface", band_text(interface, units.interface, units.interface_of, digits), interface.source
    )
    lines += notes.line("duration", duration_text(step.duration_s), step.duration_s.source)
    if step.bead_height_mm is not None:
        digits = 1 if units.length == "mm" else 3
        bead = f"{units.length_of(step.bead_height_mm):.{digits}f} {units.length}"
        lines += notes.line(f"bead {plan.bead_measure}", bead, step.bead_height_source)
    return lines


class _Sources:
    """Numbers each source in the order in which it is first named."""

    def __init__(self) -> None:
        self._numbers: dict[Source, int] = {}

    def line(self, label: str, value: str, source: Source) -> list[str]:
        if source.mark is Mark.NOT_GIVEN:
            return [f"  {label:<{_LABEL - 2}}{value}"]
        return [f"  {label:<{_LABEL - 2}}{value:<{_VALUE}} {self.reference(source)}"]

    def reference(self, source: Source) -> str:
        """Return `[3] seen`: the number under which the source is listed, and its mark."""
        number = self._numbers.setdefault(source, len(self._numbers) + 1)
        return f"[{number}] {mark_text(source)}"

    def list(self) -> list[str]:
        return [
            line
            for source, number in self._numbers.items()
            for line in _wrapped(f"[{number}] {source.text} ({mark_text(source)})", "  ", "      ")
        ]


def _bullets(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in _wrapped(text, "  - ", "    ")]


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
