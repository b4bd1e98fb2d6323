"""A joint's report in words: what was planned, what the curve showed, what people said, how it is sealed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.domain.band import NO_BAND
from logger.domain.channel import UNIT_OF, Channel, Quantity, is_overdue
from logger.domain.commissioning import rig_fingerprint
from logger.domain.dossier import Dossier
from logger.domain.figure import Figure
from logger.domain.heat_through import Heat
from logger.domain.joint import Joint, PipeEnd
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.judgement import Judgement, PhaseSpan, Severity
from logger.domain.measures import Measures, PlateMeasures, StepMeasures
from logger.domain.phase import Phase
from logger.domain.place_error import half_interval
from logger.domain.record import Stamp
from logger.domain.report import JointReport, ReportTable
from logger.domain.rig import Origin
from logger.domain.sheet import SheetRow
from logger.wording.acceptance import NOT_ENTERED, acceptance_rows
from logger.wording.events import ORIGIN_NOTES, PHASE_NAMES, VERDICT_NAMES
from logger.wording.figures_text import figures_text
from logger.wording.findings import finding_text
from logger.wording.hand_text import hand_lines
from logger.wording.judgement_text import CURVE_ONLY
from logger.wording.plan_text import band_text, duration_text
from logger.wording.plate_text import heat_text, surface_line
from logger.wording.reasons import information_text, reason_text, undecided_text
from logger.wording.said_text import said_lines
from logger.wording.source_notes import SourceNotes
from logger.wording.verification_text import fingerprint_text

_PHASE_SHARES = (0.12, 0.08, 0.12, 0.15, 0.16, 0.19, 0.13, 0.05)
_PHASE_HEADINGS = (
    "phase", "begins", "lasts (95 %)", "time planned", "gauge planned", "gauge measured: mean", "interface",
    "src",
)  # fmt: skip
_CAUTIONS = (
    "Cautions for this work stand on the plan's card; local codes and licensed practice come before "
    "anything printed here. Beadwatch advises and records; it does not certify."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SealText:
    """What to print of the seal: lines for people, and `witness` for the code, empty when unsealed."""

    lines: tuple[str, ...]
    witness: str = ""


def report_of(dossier: Dossier, figures: Sequence[Figure], seal: SealText) -> JointReport:
    """Word the report of one joint."""
    record, judgement = dossier.record, dossier.judgement
    notes = SourceNotes()
    return JointReport(
        title=f"Joint {record.number or '(unnamed)'}, attempt {record.attempt}",
        subtitle=f"{record.project or 'no project'}; opened {stamp_text(record.header.opened)}",
        banner=banner_of(record.header.origin, record.header.time_scale),
        verdict="open" if judgement is None else VERDICT_NAMES[judgement.verdict],
        lines=tuple(acceptance_rows(verdict_text(dossier), dossier.statements)),
        facts=tuple(_facts(dossier)),
        figures=tuple(figures),
        phases=_phase_table(judgement, notes),
        findings=(*_findings(judgement), *hand_lines(dossier.statements)),
        said=tuple(said_lines(dossier.statements)),
        notes=tuple(_notes(judgement, notes)),
        seal=seal.lines,
        witness=seal.witness,
    )


def banner_of(origin: Origin, time_scale: float) -> str:
    """What has to be printed across everything that is no live joint; empty for a live one."""
    note = ORIGIN_NOTES[origin]
    return f"{note}, {time_scale:g} times real time" if note and time_scale != 1.0 else note


def verdict_text(dossier: Dossier) -> str:
    """The verdict of the recorded curve, with what it rests on where that is remembered."""
    judgement = dossier.judgement
    if judgement is None:
        return "none yet: the joint is open"
    figures = figures_text(judgement, dossier.confirmations)
    return ", ".join(filter(None, (VERDICT_NAMES[judgement.verdict], figures)))


def stamp_text(stamp: Stamp) -> str:
    return stamp.utc if stamp.utc_verified else f"{stamp.utc} (clock not verified)"


def _facts(dossier: Dossier) -> Iterator[SheetRow]:
    record, rig, joint, judgement = dossier.record, dossier.rig, dossier.joint, dossier.judgement
    plan = judgement.plan if judgement else None

    def row(label: str, value: str) -> SheetRow:
        return SheetRow(label=label, value=value)

    badge = f", badge {joint.operator_badge}" if joint is not None and joint.operator_badge else ""
    yield row("operator", (record.header.operator or NOT_ENTERED) + badge)
    if joint is not None:
        yield row("place", _place_text(joint))
    yield row("rig", " ".join(filter(None, (rig.name, rig.serial))))
    yield row("piston area", _measure(plan.piston_area_mm2 if plan else rig.piston_area_mm2, "mm²"))
    if joint is not None:
        yield row("pipe, side a", _end_text(joint.pipe_a))
        yield row("pipe, side b", _end_text(joint.pipe_b))
    if plan is not None:
        yield row("procedure", f"{plan.title} [{plan.procedure}]")
        yield row("drag, confirmed", _measure(plan.drag_pressure_bar, "bar"))
        yield row("drag, from curve", _measure(judgement.drag_detected_bar if judgement else None, "bar"))
        yield row("ambient", _measure(plan.ambient_temperature_degC, "°C"))
    yield from _plate_rows(dossier)
    for channel in rig.channels:
        yield row(channel.quantity.replace("_", " "), _sensor_text(channel, record.header.opened.utc))
    yield row("rig fingerprint", fingerprint_text(rig_fingerprint(record.header.rig_json)))
    if record.claim is not None:
        claim = record.claim
        yield row("claimed", f"by {claim.claimed_by}, {claim.at.utc}: {claim.reason}")
    yield row("record", record.header.uuid)
    yield row("recorded by", f"Beadwatch {record.run.software}, clock {record.run.clock_source}")
    yield row("config", f"SHA-256 {record.header.config_sha256[:32]}...")
    if record.previous_uuid:
        yield row("follows attempt", record.previous_uuid)
    if record.end is not None:
        yield row("ended", " ".join(filter(None, (record.end.how, record.end.reason))))


def _plate_rows(dossier: Dossier) -> Iterator[SheetRow]:
    rig, judgement = dossier.rig, dossier.judgement
    if judgement is not None and judgement.measures is not None:
        plate = judgement.measures.plate
        yield SheetRow(label="plate", value=_plate_text(judgement.measures))
        if plate.heat:
            yield SheetRow(label="heat-through", value=_heat_text(plate, judgement.plan))
    if rig.channel_of(Quantity.PLATE_TEMPERATURE) is not None:
        text = surface_line(rig.plate_surface, dossier.record.header.opened.utc)
        yield SheetRow(label="plate surface", value=text)


def _place_text(joint: Joint) -> str:
    where = joint.coordinates_deg
    known = "" if where is None else f"{where[0]:.5f}°, {where[1]:.5f}°"
    return "; ".join(filter(None, (joint.place, known))) or NOT_ENTERED


def _plate_text(measures: Measures) -> str:
    plate = measures.plate
    at_contact, least, at_removal = (
        "not seen" if value is None else f"{value:.1f} °C"
        for value in (plate.at_contact_degC, plate.least_degC, plate.at_removal_degC)
    )
    return f"{at_contact} at contact, {least} at least, {at_removal} at removal"


def _heat_text(plate: PlateMeasures, plan: JointPlan | None) -> str:
    band = plan.heat_through_s if plan else NO_BAND
    gone = "" if plate.heat_through_s is None else f"{plate.heat_through_s:.0f} s"
    # What counted on after it was through is of no interest; before contact it is how far it came.
    told = heat_text(plate.heat, gone, f"{band.min or 0.0:g} s", band.source)
    return f"{told}; in its band {gone} before contact" if plate.heat == Heat.THROUGH else told


def _measure(value: float | None, unit: str) -> str:
    return NOT_ENTERED if value is None else f"{value:.6g} {unit}"


def _sensor_text(channel: Channel, opened_utc: str) -> str:
    """Dates are ISO 8601: the first ten characters of the opening are its day."""
    serial = f"serial {channel.sensor_serial}" if channel.sensor_serial else f"serial {NOT_ENTERED}"
    dates = f"calibrated {channel.calibrated_on}" if channel.calibrated_on else f"calibration {NOT_ENTERED}"
    due = f", due {channel.calibration_due}" if channel.calibration_due else ""
    if is_overdue(channel.calibration_due, opened_utc):
        due = f", OVERDUE since {channel.calibration_due}"
    known = channel.standard_uncertainty
    return f"{serial}; {dates}{due}" + ("" if known is None else f"; u {known:g} {UNIT_OF[channel.quantity]}")


def _end_text(end: PipeEnd) -> str:
    sdr = "" if end.sdr is None else f", SDR {end.sdr:g}"
    what = ", fitting" if end.is_fitting else ""
    code = f"; code {end.code}" if end.code else "; no traceability code"
    return f"{end.material}, dn {end.outside_diameter_mm:g} mm, wall {end.wall_mm:.2f} mm{sdr}{what}{code}"


def _phase_table(judgement: Judgement | None, notes: SourceNotes) -> ReportTable:
    rows = tuple(_phase_row(span, judgement, notes) for span in judgement.phases) if judgement else ()
    return ReportTable(headings=_PHASE_HEADINGS, shares=_PHASE_SHARES, rows=rows)


def _phase_row(span: PhaseSpan, judgement: Judgement, notes: SourceNotes) -> tuple[str, ...]:
    plan, measures = judgement.plan, judgement.measures
    begins = f"{span.start.at_s:.2f} s" if span.start.at_s is not None else _unseen(span.start.reason)
    if span.duration_s is not None:
        lasts = f"{span.duration_s:.2f} s ± {half_interval(span.start.u_s, span.end.u_s):.2f}"
    else:
        lasts = "" if span.start.at_s is None else _unseen(span.end.reason)
    steps = plan.steps_of(span.phase) if plan else ()
    time = ", then ".join(duration_text(step.duration_s) for step in steps)
    gauge = ", then ".join(_gauge(step, plan) for step in steps if plan)
    measured = [step for step in measures.steps if step.phase is span.phase] if measures else []
    sources = [band.source for step in steps for band in (step.duration_s, step.gauge_pressure_bar)]
    numbers = "".join(dict.fromkeys(notes.number(source) for source in sources))
    return (
        PHASE_NAMES[span.phase],
        begins,
        lasts,
        time,
        gauge,
        "; ".join(_measured_gauge(step) for step in measured),
        "; ".join(_measured_interface(step) for step in measured),
        numbers,
    )


def _measured_gauge(step: StepMeasures) -> str:
    gauge = step.gauge_bar
    share = "" if step.in_band_share is None else f", {100 * step.in_band_share:.1f} % in band"
    return f"{gauge.mean:.2f} ({gauge.least:.2f} to {gauge.greatest:.2f}) bar{share}"


def _measured_interface(step: StepMeasures) -> str:
    if step.interface_MPa is None:
        return ""
    friction = "" if step.friction_MPa is None else f" ± {step.friction_MPa:.3f} at rest"
    return f"{step.interface_MPa.mean:.3f} N/mm²{friction}"


def _gauge(step: PlanStep, plan: JointPlan | None) -> str:
    if step.gauge_pressure_bar.is_given:
        return band_text(step.gauge_pressure_bar, "bar", float, 2)
    at_drag = plan is not None and step.phase is Phase.HEAT_SOAK and not plan.soak_limit_includes_drag
    return "drag or less" if at_drag else "not given"


def _unseen(reason: str) -> str:
    return f"not seen: {reason_text(reason)}" if reason else "not seen"


def _findings(judgement: Judgement | None) -> Iterator[str]:
    if judgement is None:
        return
    for finding in judgement.findings:
        kind = "FAULT" if finding.severity is Severity.FAULT else "remark"
        at = "" if finding.start_s is None else f" (at {finding.start_s:.1f} s)"
        yield f"{kind}: {finding_text(finding)}{at}"
    explained = {one.code: undecided_text(one) for one in judgement.undecided}
    for reason in judgement.reasons:
        yield f"could not be decided: {explained.get(reason) or reason_text(reason)}"
    for code in judgement.information:
        yield f"to be known: {information_text(code)}"
    if judgement.other_joints:
        yield f"remark: other heating cycles in this curve: {len(judgement.other_joints)}"


def _notes(judgement: Judgement | None, notes: SourceNotes) -> Iterator[str]:
    yield from notes.footnotes()
    if judgement is not None:
        yield f"Decision rule: {judgement.decision_rule}."
    yield CURVE_ONLY
    yield _CAUTIONS
