"""Texts of refusals: what the procedure does not cover, and what would be covered."""

from collections.abc import Mapping

from logger.domain.notices import RefusalCode
from logger.errors import ProcedureRefusal
from logger.wording.language import figure, say

_TEXTS: dict[str, str] = {
    RefusalCode.MATERIAL_OUT_OF_SCOPE: "does not cover {material}; it covers {covered}",
    RefusalCode.MATERIAL_MIXED: "cannot join {material_a} to {material_b}: different plastics do not fuse",
    RefusalCode.MATERIAL_VALUES_DIFFER: "asks different values of {material_a} and {material_b}",
    RefusalCode.DIAMETER_UNEQUAL: (
        "cannot join outside diameters {diameter_a_mm:g} and {diameter_b_mm:g} mm end to end"
    ),
    RefusalCode.WALL_UNEQUAL: (
        "allows walls to differ by {limit_mm:.2f} mm, these are {wall_a_mm:.2f} and {wall_b_mm:.2f} mm; "
        "machine the thicker end"
    ),
    RefusalCode.SCOPE_BELOW: "covers {variable} from {limit} on, this is {value}; {source}",
    RefusalCode.SCOPE_ABOVE: "covers {variable} up to {limit}, this is {value}; {source}",
    RefusalCode.SCOPE_NOT_ABOVE: "covers {variable} above {limit} only, this is {value}; {source}",
    RefusalCode.AMBIENT_MISSING: "needs ambient_temperature: its times depend on it",
    RefusalCode.TABLE_ENDED: "has no row for {variable} {value}; its rows run from {min} to {max}",
    RefusalCode.PIPE_IMPOSSIBLE: "cannot plan a pipe of dn {diameter_mm:g} mm with a wall of {wall_mm:g} mm",
    RefusalCode.OUT_OF_ROUND: (
        "allows {limit_mm:.2f} mm out of round, this end has {measured_mm:.2f} mm: re-round it; {source}"
    ),
    RefusalCode.WORKSHOP_NOT_COVERED: "allows no workshop reduction for a wall of {wall_mm:.2f} mm",
    RefusalCode.FORMULA_UNDEFINED: "has a formula without a value for this pipe; correct it",
}

_VARIABLES = {
    "wall": ("wall", "mm"), "diameter": ("outside diameter", "mm"), "sdr": ("SDR", ""),
    "ambient": ("ambient temperature", "degC"), "melt_flow": ("melt flow rate", "g/10 min"),
    "wall_in": ("wall", "inch"),
    "diameter_in": ("outside diameter", "inch"),
}  # fmt: skip
_OF_VARIABLE = frozenset({"value", "limit", "min", "max"})


def refusal_text(refusal: ProcedureRefusal) -> str:
    """Return one line: the procedure and what it does not cover. Raises KeyError for a code without text."""
    parameters = {"procedure": say("the procedure"), **_readable(refusal.parameters)}
    return f"{parameters['procedure']} {say(_TEXTS[refusal.code], **parameters)} [{refusal.code}]"


def _readable(parameters: Mapping[str, str | float]) -> dict[str, str | float]:
    """Put name and unit of the variable into the parameters that speak of it."""
    if "variable" not in parameters:
        return dict(parameters)
    name, unit = _VARIABLES[str(parameters["variable"])]
    readable = {
        key: f"{figure(float(value), '.6g')} {unit}".rstrip() if key in _OF_VARIABLE else value
        for key, value in parameters.items()
    }
    return {**readable, "variable": say(name)}
