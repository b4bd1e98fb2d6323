"""The preparation of a joint, item by item, in the order of the work.

Items that a procedure limits take limit and source from the plan; the others are common practice, no source.
"""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.notices import CautionCode
from logger.domain.procedure import PreparationCode


class CheckCode(StrEnum):
    """What is checked or done before the plate goes in; its text lives in `wording`."""

    SHELTER = "shelter"
    GAUGE_COMPARED = "gauge_compared"
    PIPE_ON_ROLLERS = "pipe_on_rollers"
    ENDS_CLEAN = "ends_clean"
    END_BEYOND_CLAMP = "end_beyond_clamp"
    CLAMPS_TIGHTENED = "clamps_tightened"
    OUT_OF_ROUND = "out_of_round"
    SKIN_REMOVED = "skin_removed"
    UNBROKEN_SHAVING = "unbroken_shaving"
    CHIP_THICKNESS = "chip_thickness"
    FACES_NOT_TOUCHED = "faces_not_touched"
    GAP = "gap"
    MISALIGNMENT = "misalignment"
    STROKE_LEFT = "stroke_left"
    SLIP_HOLD = "slip_hold"
    DRAG_MEASURED = "drag_measured"
    PLATE_CLEAN = "plate_clean"
    HEATED_THROUGH = "heated_through"
    HEATER_CHECKED = "heater_checked"
    SIGNALS_NOTICED = "signals_noticed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One item. `unit` is that of its limit and of the value entered with it, empty where there is none.

    `limit` names the check of the plan whose limit and source it carries. An item with `only_if_planned` is
    asked for where the plan has that check.
    """

    code: CheckCode
    unit: str = ""
    limit: PreparationCode | None = None
    only_if_planned: bool = False
    cautions: tuple[CautionCode, ...] = ()


CHECKLIST: tuple[Check, ...] = (
    Check(code=CheckCode.SHELTER, cautions=(CautionCode.GAS, CautionCode.MAINS_ON_WET_GROUND)),
    Check(code=CheckCode.GAUGE_COMPARED, unit="bar", cautions=(CautionCode.PRESSURE_OIL,)),
    Check(code=CheckCode.PIPE_ON_ROLLERS),
    Check(code=CheckCode.ENDS_CLEAN),
    Check(
        code=CheckCode.END_BEYOND_CLAMP,
        unit="mm",
        limit=PreparationCode.END_BEYOND_CLAMP,
        cautions=(CautionCode.CLOSING_CLAMPS,),
    ),
    Check(code=CheckCode.CLAMPS_TIGHTENED, cautions=(CautionCode.CLOSING_CLAMPS,)),
    Check(code=CheckCode.OUT_OF_ROUND, unit="mm", limit=PreparationCode.OUT_OF_ROUND),
    Check(code=CheckCode.SKIN_REMOVED, limit=PreparationCode.SKIN_REMOVED, only_if_planned=True),
    Check(
        code=CheckCode.UNBROKEN_SHAVING,
        limit=PreparationCode.UNBROKEN_SHAVING,
        cautions=(CautionCode.FACER_BLADES, CautionCode.CLOSING_CLAMPS, CautionCode.MAINS_ON_WET_GROUND),
    ),
    Check(
        code=CheckCode.CHIP_THICKNESS,
        unit="mm",
        limit=PreparationCode.CHIP_THICKNESS,
        only_if_planned=True,
    ),
    Check(code=CheckCode.FACES_NOT_TOUCHED, limit=PreparationCode.FACES_NOT_TOUCHED),
    Check(
        code=CheckCode.GAP,
        unit="mm",
        limit=PreparationCode.GAP,
        cautions=(CautionCode.CLOSING_CLAMPS,),
    ),
    Check(
        code=CheckCode.MISALIGNMENT,
        unit="mm",
        limit=PreparationCode.MISALIGNMENT,
        cautions=(CautionCode.CLOSING_CLAMPS,),
    ),
    Check(code=CheckCode.STROKE_LEFT, cautions=(CautionCode.CLOSING_CLAMPS,)),
    Check(
        code=CheckCode.SLIP_HOLD,
        unit="bar",
        cautions=(CautionCode.CLOSING_CLAMPS, CautionCode.PRESSURE_OIL),
    ),
    Check(
        code=CheckCode.DRAG_MEASURED,
        unit="bar",
        limit=PreparationCode.DRAG_MEASURED,
        cautions=(CautionCode.CLOSING_CLAMPS,),
    ),
    Check(code=CheckCode.PLATE_CLEAN, cautions=(CautionCode.HOT_PLATE, CautionCode.MAINS_ON_WET_GROUND)),
    Check(code=CheckCode.HEATED_THROUGH, cautions=(CautionCode.HOT_PLATE,)),
    Check(
        code=CheckCode.HEATER_CHECKED,
        unit="degC",
        limit=PreparationCode.HEATER_CHECKED,
        cautions=(CautionCode.HOT_PLATE,),
    ),
    Check(code=CheckCode.SIGNALS_NOTICED),
)
