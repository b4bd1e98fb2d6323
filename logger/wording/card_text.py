"""The card that the operator clips to the rig: one page of the plan, short enough to read outdoors."""

import textwrap
from collections.abc import Iterator

from logger.domain.band import Band
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.phase import Phase
from logger.domain.sheet import Sheet, SheetRow, SheetSection
from logger.domain.source import Mark
from logger.wording.findings import SUBJECTS
from logger.wording.notices import PREPARATION_TEXTS, text_of
from logger.wording.plan_text import END_TEXT, band_text, duration_text
from logger.wording.source_notes import SourceNotes
from logger.wording.units import METRIC, Units

TEXT_COLUMNS = 72
UNVERIFIED = "Some figures are FROM MEMORY: check against your own copy before use."


def card_of(joint: str, plan: JointPlan, units: Units = METRIC) -> Sheet:
    """Word the card of one joint."""
    notes = SourceNotes()
    plate = plan.plate_temperature_degC
    steps = tuple(_section(step, plan, units, notes) for step in plan.steps)
    plate_row = SheetRow(
        label="plate surface",
        value=band_text(plate, units.temperature, units.temperature_of, 0),
        note=notes.number(plate.source),
        strong=True,
    )
    preparation = tuple(_preparation(plan, units, notes))
    drag = plan.drag_pressure_bar
    drag_text = "measure for this joint" if drag is None else f"{units.gauge_of(drag):.1f} {units.pressure}"
    given = (
        SheetRow(label="drag (this joint)", value=drag_text),
        plate_row,
    )
    length, digits = units.length, 2 if units.length == "mm" else 3
    diameter, wall = units.length_of(plan.outside_diameter_mm), units.length_of(plan.wall_mm)
    return Sheet(
        title=f"Joint {joint}: {plan.material}, dn {diameter:g} {length}, wall {wall:.{digits}f} {length}",
        subtitle=plan.title,
        warning=UNVERIFIED if _has_memory(plan) else "",
        sections=(
            SheetSection(heading="Before", rows=given, bullets=preparation),
            *steps,
            SheetSection(heading="After the pressure is off", rows=tuple(_after(plan, notes))),
            SheetSection(heading="Cautions", bullets=tuple(text_of(c) for c in plan.cautions)),
        ),
        footnotes=tuple(notes.footnotes()),
    )


def card_lines(sheet: Sheet) -> list[str]:
    """The card as plain text."""
    lines = [*textwrap.wrap(sheet.title, TEXT_COLUMNS), *textwrap.wrap(sheet.subtitle, TEXT_COLUMNS)]
    if sheet.warning:
        lines += ["", *textwrap.wrap(f"! {sheet.warning}", TEXT_COLUMNS)]
    for section in sheet.sections:
        lines += ["", section.heading.upper()]
        lines += [f"  {row.label:18}{row.value:40} {row.note}".rstrip() for row in section.rows]
        for bullet in section.bullets:
            lines += textwrap.wrap(bullet, TEXT_COLUMNS, initial_indent="  - ", subsequent_indent="    ")
    lines += ["", "SOURCES"]
    for note in sheet.footnotes:
        lines += textwrap.wrap(note, TEXT_COLUMNS, initial_indent="  ", subsequent_indent="      ")
    return lines


def _section(step: PlanStep, plan: JointPlan, units: Units, notes: SourceNotes) -> SheetSection:
    rows = []
    gauge = step.gauge_pressure_bar
    if gauge.is_given:
        rows.append(_row("gauge", band_text(gauge, units.pressure, units.gauge_of, 1), gauge, notes))
    elif step.phase is Phase.HEAT_SOAK and not plan.soak_limit_includes_drag:
        source = plan.soak_limit_source
        rows.append(SheetRow(label="gauge", value="drag or less", note=notes.number(source), strong=True))
    elif step.phase is not Phase.CHANGEOVER:
        rows.append(SheetRow(label="gauge", value="drag or piston area not known yet", strong=True))
    rows.append(_row("time", duration_text(step.duration_s), step.duration_s, notes))
    if step.bead_height_mm is not None:
        digits = 1 if units.length == "mm" else 3
        bead = f"{units.length_of(step.bead_height_mm):.{digits}f} {units.length}, all round, seen by eye"
        note = notes.number(step.bead_height_source)
        rows.append(SheetRow(label=f"bead {plan.bead_measure}", value=bead, note=note, strong=True))
    heading = SUBJECTS[step.phase].capitalize()
    return SheetSection(
        heading=heading if step.step is None else f"{heading}, step {step.step}", rows=tuple(rows)
    )


def _after(plan: JointPlan, notes: SourceNotes) -> Iterator[SheetRow]:
    for end in plan.cooling_ends:
        note = notes.number(end.duration_s.source)
        yield SheetRow(label=END_TEXT[end.kind], value=duration_text(end.duration_s), note=note)


def _row(label: str, value: str, band: Band, notes: SourceNotes) -> SheetRow:
    return SheetRow(label=label, value=value, note=notes.number(band.source), strong=True)


def _preparation(plan: JointPlan, units: Units, notes: SourceNotes) -> Iterator[str]:
    digits = 1 if units.length == "mm" else 2
    for check in plan.preparation:
        given = check.limit_mm.is_given
        limit = band_text(check.limit_mm, units.length, units.length_of, digits) if given else ""
        yield f"{PREPARATION_TEXTS[check.code].format(limit=limit)} {notes.number(check.source)}".rstrip()


def _has_memory(plan: JointPlan) -> bool:
    bands = [plan.plate_temperature_degC]
    for step in plan.steps:
        bands += [step.gauge_pressure_bar, step.duration_s]
    return any(band.is_given and band.source.mark is Mark.MEMORY for band in bands)
