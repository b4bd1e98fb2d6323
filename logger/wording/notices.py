"""Texts of cautions, remarks and the checks before the plate goes in."""

from logger.domain.joint_plan import Notice
from logger.domain.notices import CautionCode, RemarkCode
from logger.domain.procedure import PreparationCode
from logger.wording.language import say

_TEXTS: dict[str, str] = {
    CautionCode.HOT_PLATE: (
        "The plate is over 200 degC for the whole work and long after: gloves, a stand, nobody near its edge."
    ),
    CautionCode.CLOSING_CLAMPS: (
        "Clamps and carriage close with tonnes of force: hands and clothing clear, warn before each stroke."
    ),
    CautionCode.FACER_BLADES: (
        "The facer's blades cut on after the motor stops: no hand near the discs, shavings out with a tool."
    ),
    CautionCode.PRESSURE_OIL: (
        "Oil under pressure pierces skin: relieve the pressure before touching a hose, a fitting or a clamp."
    ),
    CautionCode.MAINS_ON_WET_GROUND: (
        "Plate and facer run on mains on wet ground: residual-current protection, sound earth."
    ),
    CautionCode.GAS: (
        "No welding in a gas-hazard zone. On a gas main, first prove the place free of it and earth the pipe."
    ),
    CautionCode.BEAD_BY_EYE: (
        "Bead-up ends by the bead all round, seen by eye, never by time or pressure alone."
    ),
    CautionCode.NO_FORCED_COOLING: "No water, no air to hasten cooling; the joint stays clamped and still.",
    CautionCode.DO_NOT_LIFT: (
        "Do not lift, pull or pressure-test the joint before the cooling ends named here have passed."
    ),
    CautionCode.LOCAL_CODES: (
        "Local codes, the network owner's rules and licensed practice come before anything printed here."
    ),
    CautionCode.DOES_NOT_CERTIFY: "Beadwatch advises and records; it does not certify.",
    CautionCode.FRICTION_AT_REST: (
        "At rest friction acts either way: the force at the faces is anywhere within +/- drag of the reading."
    ),
    CautionCode.COOLING_JUMP: (
        "The printed cooling time falls from 21.0 to 16.4 min at a wall of 18 mm: check your own copy there."
    ),
    RemarkCode.CODE_FORM: (
        "Traceability code of {sides}: {fault}; ISO 12176-4 has {digits} digits there (2003, seen). "
        "It is recorded as entered."
    ),
    RemarkCode.WALL_FROM_SDR: (
        "Wall {wall_mm:.2f} mm is dn/SDR {sdr:g}; the printed or measured wall may be a little more."
    ),
    RemarkCode.WALL_FROM_TABLE: "Wall {wall_mm:.2f} mm is {rule} for SDR {sdr:g}; {source}.",
    RemarkCode.WALLS_DIFFER: (
        "Walls differ ({wall_a_mm:.2f} and {wall_b_mm:.2f} mm): planned by the {planned_by}; {source}."
    ),
    RemarkCode.MELT_FLOW_UNKNOWN: "Melt flow rate not entered; the scope is {source}.",
    RemarkCode.GRADES_DIFFER: "Grades differ ({material_a} to {material_b}); both are in the scope.",
    RemarkCode.WORKSHOP_REDUCTION: (
        "Workshop reduction declared: cooling x {factor:g}. Conditions: {conditions}. {source}."
    ),
    RemarkCode.ABOVE_RELIEF: (
        "{gauge_bar:.1f} bar is above the relief setting of {relief_bar:g} bar: this rig cannot reach it."
    ),
    RemarkCode.UNDER_TWICE_DRAG: (
        "Joining at {gauge_bar:.1f} bar is under twice the drag of {drag_bar:.1f} bar: drag rules the joint."
    ),
    RemarkCode.DRAG_HIGH: (
        "Drag of {drag_bar:.1f} bar is more than half the fusion pressure of {fusion_bar:.1f} bar: "
        "look at rollers, alignment and the string."
    ),
    RemarkCode.UNDER_FIFTH_OF_SPAN: (
        "Joining at {gauge_bar:.1f} bar is under a fifth of the gauge span of {span_bar:g} bar: poorly read."
    ),
    RemarkCode.COOLING_BY_AMBIENT: (
        "Cooling follows the {ambient_degC:.1f} degC of ambient taken again: the longer time governs."
    ),
    RemarkCode.DRAG_UNKNOWN: (
        "Drag is not measured yet: no gauge pressures. Measure it for this joint with this pipe."
    ),
    RemarkCode.PISTON_AREA_UNKNOWN: "Piston area is not known: no gauge pressures. Give it in [rig].",
}

PREPARATION_TEXTS: dict[PreparationCode, str] = {
    PreparationCode.END_BEYOND_CLAMP: "Each end stands {limit} beyond the inner clamp.",
    PreparationCode.UNBROKEN_SHAVING: (
        "Facing goes on until one full unbroken shaving comes off all round both ends."
    ),
    PreparationCode.CHIP_THICKNESS: "Shaving thickness: {limit}.",
    PreparationCode.GAP: "Gap between the closed faces after facing: {limit}.",
    PreparationCode.MISALIGNMENT: "Misalignment of the outsides: {limit}.",
    PreparationCode.OUT_OF_ROUND: "Out of round, greatest less least diameter at the end: {limit}.",
    PreparationCode.SKIN_REMOVED: "The skin is off both ends, as far back as the maker says.",
    PreparationCode.FACES_NOT_TOUCHED: "The faced ends are not touched again.",
    PreparationCode.HEATER_CHECKED: "The plate's surface is in its band on both sides, checked with a probe.",
    PreparationCode.DRAG_MEASURED: "Drag is measured for this joint with this pipe, after the last facing.",
}
"""`{limit}` is the limit with its unit."""

_FRICTION_KNOWN = (
    "At rest friction acts either way: the interface pressure is anywhere within +/-{drag_MPa:.3f} N/mm2 "
    "(drag) of the one that the gauge suggests."
)


def text_of(notice: Notice) -> str:
    """Return the text of a caution or remark. Raises KeyError for a code without text."""
    if notice.code == CautionCode.FRICTION_AT_REST and "drag_MPa" in notice.parameters:
        return say(_FRICTION_KNOWN, **notice.parameters)
    return say(_TEXTS[notice.code], **notice.parameters)
