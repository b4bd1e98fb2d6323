"""Why something could not be decided, what would have settled it, and what a reader should know besides."""

from logger.domain.judgement import Settles, Undecided
from logger.wording.language import say

_ENDINGS = {
    "within_uncertainty": "the measured value lies too close to the limit for its uncertainty",
    "not_observed": "too few readings",
    "not_connected": "the gauge, which can be shut off, read nothing: no pressure was observed",
    "trace_ends": "the trace ends before the time was up",
    "gap_over_boundary": "a gap in the readings lies over it",
    "opening_not_visible": "the gauge does not show the opening",
    "edge_not_clear": "the edge does not stand out from the noise",
    "no_let_down": "the pressure was never let down",
    "no_heating_cycle": "no heating cycle was seen",
    "contact_not_seen": "the contact with the plate was not seen",
}

_WHOLE = {
    "no_plan": "no joint file was given, so there is nothing to judge against",
    "no_heating_cycle": "no heating cycle was seen in this curve",
    "gauge_pressure_not_planned": "drag or piston area is missing, so no gauge pressure could be planned",
}

_SETTLES = {
    Settles.CARRIAGE_POSITION: "the carriage position",
    Settles.PLATE_SWITCH: "a switch that shows the plate in",
    Settles.PRESSURE_TRANSMITTER: "a pressure transmitter",
    Settles.PLATE_THERMOMETER: "a plate thermometer",
    Settles.FASTER_SAMPLING: "faster sampling",
    Settles.UNBROKEN_READINGS: "readings without a gap there",
    Settles.LONGER_RECORDING: "a recording to the end",
    Settles.CLOSING_SIDE_GAUGE: "a gauge at the cylinders",
    Settles.DRAG_AND_AREA: "the drag pressure and the piston area",
    Settles.JOINT_FILE: "a joint file",
}

_INFORMATION = {
    "pressure.uncertainty.not_declared": "the gauge declares no uncertainty: pressures were compared plainly",
    "plate.uncertainty.not_declared": "the plate sensor declares no uncertainty: it was compared plainly",
    "plate.temperature.read_by_hand": (
        "no plate sensor is fitted: the plate was judged by readings taken by hand before contact"
    ),
    "contact.force.not_observed": "contact force not observed: no carriage position was seen to move",
    "cooling.connection.not_declared": (
        "the rig file does not declare check_valve; the gauge was taken to be connected throughout"
    ),
}


CODE_WORDS = (
    "bead up", "heat soak", "changeover", "pressure build up", "cooling", "plate", "start", "end", "duration",
    "pressure", "temperature", "contact", "long", "short", "high", "low", "gap over boundary",
    "opening not visible", "edge not clear", "no let down", "no heating cycle", "contact not seen",
    "trace ends", "not connected",
)  # fmt: skip
"""What codes are made of, where they are said word by word."""


def reason_text(code: str) -> str:
    """Word a reason code such as `changeover.start.gap_over_boundary`."""
    if code in _WHOLE:
        return say(_WHOLE[code])
    what, _, ending = code.rpartition(".")
    return f"{_subject_text(what)}: {ending_text(ending)}"


def ending_text(ending: str) -> str:
    """Word the last part of a reason code, such as `gap_over_boundary`."""
    return say(_ENDINGS.get(ending, ending.replace("_", " ")))


def _subject_text(what: str) -> str:
    """Word by word: `changeover.duration.long` is of a phase, a quantity and a direction."""
    return " ".join(say(part.replace("_", " ")) for part in what.split("."))


def undecided_text(undecided: Undecided) -> str:
    """Word one entry: what was missing, the figures that were weighed, and what would have settled it."""
    text = reason_text(undecided.code)
    if undecided.conformance_probability is not None and undecided.measured is not None:
        unit = undecided.unit
        text += say(
            ": {value:.6g} {unit}, limit {limit:.6g} {unit}; ",
            value=undecided.measured, limit=undecided.limit, unit=unit,
        )  # fmt: skip
        text += weighed_text(
            undecided.standard_uncertainty, undecided.conformance_probability, undecided.coverage_factor
        )
    if undecided.needed_u == 0.0:
        return say("{doubt}; it stands at its limit, no instrument would have settled it", doubt=text)
    return say("{doubt}; {what} would have settled it", doubt=text, what=_settled(undecided))


def weighed_text(u: float | None, chance: float | None, k: float | None) -> str:
    """u, conformance probability and guard band factor, as findings and doubts print them."""
    return say(
        "u {u:.3g}, conformance probability {chance:.3g}, k {k:.4g}",
        u=u or 0.0, chance=chance or 0.0, k=k or 0.0,
    )  # fmt: skip


def information_text(code: str) -> str:
    """Word what a reader should know and no verdict rests on."""
    return say(_INFORMATION.get(code, code.replace(".", " ").replace("_", " ")))


def _settled(undecided: Undecided) -> str:
    name = say(_SETTLES[undecided.settles])
    if not undecided.needed_u:
        return name
    u, unit = undecided.needed_u, undecided.unit
    if unit == "s":
        return say("{name}, for a standard uncertainty of {u:.2g} {unit} or less,", name=name, u=u, unit=unit)
    return say("{name} with a standard uncertainty of {u:.2g} {unit} or less", name=name, u=u, unit=unit)
