"""Codes of refusals, cautions and remarks with the names of their parameters; the text lives in `wording`."""

from enum import StrEnum


class RefusalCode(StrEnum):
    """Why a procedure does not cover a joint; the parameters are named beside each."""

    MATERIAL_OUT_OF_SCOPE = "material.out_of_scope"
    """procedure, material, covered"""
    MATERIAL_MIXED = "material.mixed"
    """procedure, material_a, material_b"""
    MATERIAL_VALUES_DIFFER = "material.values_differ"
    """procedure, material_a, material_b"""
    DIAMETER_UNEQUAL = "diameter.unequal"
    """procedure, diameter_a_mm, diameter_b_mm"""
    WALL_UNEQUAL = "wall.unequal"
    """procedure, wall_a_mm, wall_b_mm, limit_mm"""
    SCOPE_BELOW = "scope.below"
    """procedure, variable, value, limit, source"""
    SCOPE_ABOVE = "scope.above"
    """procedure, variable, value, limit, source"""
    SCOPE_NOT_ABOVE = "scope.not_above"
    """procedure, variable, value, limit, source"""
    AMBIENT_MISSING = "ambient.missing"
    """procedure"""
    TABLE_ENDED = "table.ended"
    """procedure, variable, value, min, max"""
    PIPE_IMPOSSIBLE = "pipe.impossible"
    """diameter_mm, wall_mm"""
    OUT_OF_ROUND = "out_of_round"
    """procedure, measured_mm, limit_mm, source"""
    WORKSHOP_NOT_COVERED = "workshop.not_covered"
    """procedure, wall_mm, wall_from_mm"""
    FORMULA_UNDEFINED = "formula.undefined"
    """procedure"""


class CautionCode(StrEnum):
    """What can hurt or mislead; no parameters unless named."""

    HOT_PLATE = "caution.hot_plate"
    CLOSING_CLAMPS = "caution.closing_clamps"
    FACER_BLADES = "caution.facer_blades"
    PRESSURE_OIL = "caution.pressure_oil"
    MAINS_ON_WET_GROUND = "caution.mains_on_wet_ground"
    GAS = "caution.gas"
    NO_FORCED_COOLING = "caution.no_forced_cooling"
    DO_NOT_LIFT = "caution.do_not_lift"
    BEAD_BY_EYE = "caution.bead_by_eye"
    FRICTION_AT_REST = "caution.friction_at_rest"
    """drag_MPa: drag as interface pressure, absent while drag or piston area is unknown"""
    LOCAL_CODES = "caution.local_codes"
    DOES_NOT_CERTIFY = "caution.does_not_certify"
    COOLING_JUMP = "caution.cooling_jump"


class RemarkCode(StrEnum):
    """What the plan did that the reader should know."""

    WALL_FROM_SDR = "remark.wall_from_sdr"
    """wall_mm, sdr"""
    WALL_FROM_TABLE = "remark.wall_from_table"
    """wall_mm, sdr, rule, source"""
    WALLS_DIFFER = "remark.walls_differ"
    """wall_a_mm, wall_b_mm, planned_by, source"""
    MELT_FLOW_UNKNOWN = "remark.melt_flow_unknown"
    """source"""
    GRADES_DIFFER = "remark.grades_differ"
    """material_a, material_b"""
    WORKSHOP_REDUCTION = "remark.workshop_reduction"
    """factor, conditions, source"""
    ABOVE_RELIEF = "remark.above_relief"
    """gauge_bar, relief_bar"""
    UNDER_TWICE_DRAG = "remark.under_twice_drag"
    """gauge_bar, drag_bar"""
    DRAG_HIGH = "remark.drag_high"
    """drag_bar, fusion_bar"""
    UNDER_FIFTH_OF_SPAN = "remark.under_fifth_of_span"
    """gauge_bar, span_bar"""
    COOLING_BY_AMBIENT = "remark.cooling_by_ambient"
    """ambient_degC"""
    DRAG_UNKNOWN = "remark.drag_unknown"
    PISTON_AREA_UNKNOWN = "remark.piston_area_unknown"


WORKSHOP_OPTION = "workshop-reduction"
JOINT_OPTIONS: tuple[str, ...] = (WORKSHOP_OPTION,)
"""What a joint may declare; each appears in the plan and in the record."""
