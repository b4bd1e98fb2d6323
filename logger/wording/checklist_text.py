"""The items of the preparation in words."""

from logger.domain.checklist import CheckCode

CHECK_TEXTS: dict[CheckCode, str] = {
    CheckCode.SHELTER: (
        "Shelter stands: no rain, wind, dust or sun on the ends; far ends capped against draught."
    ),
    CheckCode.GAUGE_COMPARED: (
        "Once a shift: vented, the transmitter reads zero; held, it reads as the dial does. The difference."
    ),
    CheckCode.PIPE_ON_ROLLERS: (
        "The moving pipe lies on rollers in line, so that drag is low; a string on a slope is restrained."
    ),
    CheckCode.ENDS_CLEAN: "Ends dry and clean, inside and out, back past the clamps.",
    CheckCode.END_BEYOND_CLAMP: "Each end stands {limit} beyond the inner clamp.",
    CheckCode.CLAMPS_TIGHTENED: "Inner clamps just tight enough to round the pipe, outer clamps tighter.",
    CheckCode.OUT_OF_ROUND: "Out of round, greatest less least diameter at the end: {limit}.",
    CheckCode.SKIN_REMOVED: "The skin is off both ends, as far back as the maker says.",
    CheckCode.UNBROKEN_SHAVING: "Faced until one full unbroken shaving came off all round both ends.",
    CheckCode.CHIP_THICKNESS: "Shaving thickness: {limit}.",
    CheckCode.FACES_NOT_TOUCHED: "Shavings out with a tool; the faced ends not touched since.",
    CheckCode.GAP: "Gap between the closed faces after facing: {limit}.",
    CheckCode.MISALIGNMENT: "Misalignment of the outsides: {limit}.",
    CheckCode.STROKE_LEFT: "The carriage has stroke left in both directions after facing.",
    CheckCode.SLIP_HOLD: (
        "Held closed for a moment at the highest planned pressure, {limit}: no pipe slipped in its clamp."
    ),
    CheckCode.DRAG_MEASURED: "Drag measured for this joint with this pipe, after the last facing.",
    CheckCode.PLATE_CLEAN: "The plate is clean on both sides, its coating whole.",
    CheckCode.HEATED_THROUGH: "Heat-through: the plate in its band, since it was switched on: {limit}.",
    CheckCode.HEATER_CHECKED: "The plate's surface, both sides, checked with a probe: {limit}.",
    CheckCode.SIGNALS_NOTICED: "Bell and flash of the screen were heard and seen at the rig.",
}
"""`{limit}` is the limit with its unit; a screen words it in the operator's units."""
