"""Texts of the checks before the plate goes in; `{limit}` is the limit with its unit."""

from logger.domain.procedure import PreparationCode

PREPARATION_TEXTS: dict[PreparationCode, str] = {
    PreparationCode.END_BEYOND_CLAMP: "Each end stands {limit} beyond the inner clamp.",
    PreparationCode.UNBROKEN_SHAVING: (
        "Facing goes on until one full unbroken shaving comes off all round both ends."
    ),
    PreparationCode.CHIP_THICKNESS: "Shaving thickness: {limit}.",
    PreparationCode.GAP: "Gap between the closed faces after facing: {limit}.",
    PreparationCode.MISALIGNMENT: "Misalignment of the outsides: {limit}.",
    PreparationCode.FACES_NOT_TOUCHED: "The faced ends are not touched again.",
    PreparationCode.HEATER_CHECKED: "The plate's surface is in its band on both sides, checked with a probe.",
    PreparationCode.DRAG_MEASURED: "Drag is measured for this joint with this pipe, after the last facing.",
}
