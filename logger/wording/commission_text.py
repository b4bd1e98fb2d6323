"""What `commission` says: the guidance of each trial, its result, and the sheet to be signed."""

import json
from collections.abc import Mapping, Sequence

from logger.domain.commissioning import (
    CommissioningSheet,
    Interruption,
    Outcome,
    Trial,
    TrialResult,
)
from logger.domain.report import ReportTable
from logger.domain.rig import Rig
from logger.domain.sheet import SheetRow
from logger.wording.check_text import QUALITIES
from logger.wording.verification_text import fingerprint_text

NAMES = {
    Trial.AREA: "Piston area against the machine's plate",
    Trial.DRAG: "Drag and breakaway, carriage empty",
    Trial.LAG: "Hydraulic lag of the gauge",
    Trial.LEAK_DOWN: "Leak-down",
    Trial.PLATE: "Plate, both faces",
    Trial.WIRE: "Signal wire pulled",
    Trial.UNPLUG: "Converter unplugged",
    Trial.POWER_DIP: "Pump, facer and plate on one supply",
}
_ABOUT_STROKES = (
    "Everyone clear of the carriage; only the operator drives the rig, by its own levers. No pipe clamped, "
    "facer and plate out."
)
_GUIDANCE = {
    Trial.AREA: "Read the total effective piston area off the machine's plate; nothing moves.",
    Trial.DRAG: (
        f"{_ABOUT_STROKES} Open the carriage first. Warn, then make one slow steady closing stroke from "
        "rest, 4 to 15 s, and let the pressure down again."
    ),
    Trial.LAG: (
        f"{_ABOUT_STROKES} Warn, close against two pipe stubs or the stop at a middling joining pressure, "
        "hold 5 s, open the valve at one go, rest 5 s; three times within the watch."
    ),
    Trial.LEAK_DOWN: (
        f"{_ABOUT_STROKES} Close against two pipe stubs or the stop at joining pressure, set the valve to "
        "neutral, stop the pump, and keep away until the watch ends. Do not look for a leak with the hand: "
        "oil under pressure pierces skin."
    ),
    Trial.PLATE: (
        "The plate is over 200 °C: gloves, its stand, nothing combustible near. Wait 10 min after it first "
        "switches off. Read each face at four points or more with a contact thermometer."
    ),
    Trial.WIRE: (
        "Pressure relieved; mains off and locked where its terminals are open: licensed work. With the watch "
        "running take the signal wire of {subject} off its terminal for 3 s or more and put it back."
    ),
    Trial.UNPLUG: (
        "Pull the plug between this computer and {subject} for 3 s or more and put it back; never a plug of "
        "the plate, pump or facer under load."
    ),
    Trial.POWER_DIP: (
        "Everyone clear of carriage, plate and the facer's blades; only the operator switches. With the "
        "plate heating in its stand, start pump and facer together on the supply that the site uses. If "
        "this computer restarts it needs a buffered supply of its own: put that on the sheet by hand."
    ),
}
UNNOTICED = {
    Trial.WIRE: "nothing was noticed: such a break passes for a value (declare signal or valid)",
    Trial.UNPLUG: "nothing was noticed: was it this bus's plug, and out for 3 s or more?",
}
CAUTIONS = (
    "Local codes, the rig's own instructions and licensed practice come before anything printed here. "
    "Beadwatch reads and records; it does not certify a rig.",
    "Limits of these trials are choices without a published source. The lag is a start value: every joint "
    "tells its own. A slow valve reads as lag.",
)
_SIGNATURES = ("Integrator", "Operator", "For the owner")


def guidance_text(trial: Trial, subject: str) -> str:
    name = f"{NAMES[trial]}: {subject}" if subject else NAMES[trial]
    return f"\n{name}\n  {_GUIDANCE[trial].format(subject=subject)}"


def interruption_text(found: Interruption) -> str:
    reason = next((text for quality, text in QUALITIES.items() if quality == found.reason), found.reason)
    if found.to_s is None:
        return f"{reason}, did not come back"
    return f"{reason} for {found.to_s - found.from_s:.2f} s, then good again"


def result_line(result: TrialResult) -> str:
    """Return one line for the person at the rig."""
    subject = f" {result.subject}" if result.subject else ""
    rest = "; ".join(filter(None, (figures_text(result.figures), result.note)))
    return f"  {result.trial}{subject}: {result.outcome}" + (f": {rest}" if rest else "")


def figures_text(figures: Mapping[str, float]) -> str:
    return ", ".join(f"{_label(name)} {value:.4g}{_unit(name)}" for name, value in figures.items())


_UNITS = {"mm2": "mm²", "degC": "°C", "bar": "bar", "s": "s"}


def _parts(name: str) -> tuple[str, str]:
    if name.endswith("_bar_per_min"):
        return name.removesuffix("_bar_per_min"), "bar/min"
    stem, _, unit = name.rpartition("_")
    return (stem, _UNITS[unit]) if unit in _UNITS else (name, "")


def _label(name: str) -> str:
    label = _parts(name)[0]
    return "falls by" if name == "bar_per_min" else label.replace("_", " ")


def _unit(name: str) -> str:
    unit = "bar/min" if name == "bar_per_min" else _parts(name)[1]
    return f" {unit}" if unit else ""


def key_lines(results: Sequence[TrialResult], today: str, sheet_sha256: str) -> list[str]:
    """Return the tables to write into the rig file; empty where neither lag nor plate was measured."""
    return [*_lag_lines(results, today, sheet_sha256), *_plate_lines(results, today)]


def _lag_lines(results: Sequence[TrialResult], today: str, sheet_sha256: str) -> list[str]:
    lag = next((r for r in results if r.trial is Trial.LAG and r.outcome is Outcome.MEASURED), None)
    if lag is None:
        return []
    return [
        "[commissioning]",
        f'hydraulic_lag = "{lag.figures["lag_s"]:.3g} s"',
        f'hydraulic_lag_uncertainty = "{lag.figures["standard_uncertainty_s"]:.2g} s"',
        f"measured = {today}",
        f'sheet = "{sheet_sha256}"',
    ]


def _plate_lines(results: Sequence[TrialResult], today: str) -> list[str]:
    faces = [r for r in results if r.trial is Trial.PLATE and r.outcome is Outcome.MEASURED]
    if not faces:
        return []
    lines = [
        "[plate_surface]",
        f"measured = {today}",
        f"instrument = {json.dumps(faces[0].note[:100], ensure_ascii=False)}",
    ]
    for face in faces:
        figures = face.figures
        lines += [
            f"[plate_surface.{face.subject.removeprefix('face ')}]",
            f'offset = "{figures["offset_degC"]:.3g} K"',
            f'spread = "{figures["spread_degC"]:.3g} K"',
        ]
    return lines


def sheet_of(
    rig: Rig,
    results: Sequence[TrialResult],
    who: tuple[str, str],
    fingerprints: tuple[str, Mapping[str, str]],
    sheet_sha256: str,
) -> CommissioningSheet:
    """Word the sheet. `who` is the person and the UTC, `fingerprints` those of the rig and of the keys."""
    by, utc = who
    of_rig, keys = fingerprints
    facts = [
        SheetRow(label="carriage", value=rig.serial or "serial not entered"),
        SheetRow(label="power pack", value=rig.power_pack_serial or "serial not entered"),
        SheetRow(label="rig fingerprint", value=fingerprint_text(of_rig)),
        *(SheetRow(label=f"key, {use}", value=fingerprint_text(key)) for use, key in keys.items()),
        *(
            SheetRow(
                label=str(channel.quantity).replace("_", " "),
                value=f"sensor {channel.sensor_serial or 'not entered'}, calibration due "
                f"{channel.calibration_due or 'not entered'}",
            )
            for channel in rig.channels
        ),
        SheetRow(label="data of this sheet", value=f"SHA-256 {sheet_sha256}"),
    ]
    rows = tuple(
        (
            NAMES[result.trial] + (f", {result.subject.replace('_', ' ')}" if result.subject else ""),
            str(result.outcome),
            "; ".join(filter(None, (figures_text(result.figures), result.note))),
        )
        for result in results
    )
    return CommissioningSheet(
        title=f"Commissioning of {rig.name}",
        subtitle=f"{by}, {utc}",
        facts=tuple(facts),
        results=ReportTable(headings=("trial", "outcome", "figures"), shares=(0.32, 0.1, 0.58), rows=rows),
        cautions=CAUTIONS,
        signatures=_SIGNATURES,
    )
