"""Every code has a text, and every text can be filled."""

import pytest

from logger.config.procedures import available_procedures
from logger.domain.joint_plan import Notice
from logger.domain.judgement import Finding, Severity
from logger.domain.notices import CautionCode, RefusalCode, RemarkCode
from logger.errors import ProcedureRefusal
from logger.wording.findings import finding_text
from logger.wording.notices import text_of
from logger.wording.refusals import refusal_text

PARAMETERS: dict[str, str | float] = {
    "procedure": "dvs-2207-1:2015", "material": "PP-H", "covered": "PE100", "material_a": "PE80",
    "material_b": "PP-R", "diameter_a_mm": 180.0, "diameter_b_mm": 160.0,
    "wall_a_mm": 10.0, "wall_b_mm": 12.0,
    "limit_mm": 1.0, "variable": "wall", "value": 131.25, "limit": 130.0, "source": "a table (seen)",
    "min": 0.0, "max": 130.0, "diameter_mm": 20.0, "wall_mm": 10.0, "option": "x", "wall_from_mm": 15.0,
    "drag_MPa": 0.09, "sdr": 11.0, "planned_by": "thinner", "factor": 0.5, "conditions": "in a workshop",
    "rule": "table-min", "gauge_bar": 30.0, "relief_bar": 160.0, "drag_bar": 12.0, "fusion_bar": 18.0,
    "span_bar": 250.0, "measured_mm": 1.2, "ambient_degC": 31.0,
    "sides": "both sides", "fault": "not only digits", "digits": 40,
}  # fmt: skip


@pytest.mark.parametrize("code", [*RefusalCode])
def test_every_refusal_has_a_text(code: RefusalCode) -> None:
    text = refusal_text(ProcedureRefusal(code, PARAMETERS))
    assert text.startswith("dvs-2207-1:2015 ")
    assert text.endswith(f"[{code}]")
    assert "{" not in text


@pytest.mark.parametrize("code", [*CautionCode, *RemarkCode])
def test_every_caution_and_remark_has_a_text(code: str) -> None:
    text = text_of(Notice(code=code, parameters=PARAMETERS))
    assert len(text) > 20
    assert "{" not in text


def test_a_code_without_text_is_an_error() -> None:
    with pytest.raises(KeyError):
        text_of(Notice(code="caution.new"))


def test_the_own_cautions_of_procedures_are_known() -> None:
    for procedure in available_procedures().values():
        for code in procedure.cautions:
            assert text_of(Notice(code=code))


def test_a_scope_refusal_speaks_of_the_variable_with_its_unit() -> None:
    text = refusal_text(
        ProcedureRefusal(
            RefusalCode.SCOPE_ABOVE,
            {
                "procedure": "p:1",
                "variable": "wall",
                "value": 131.25,
                "limit": 130.0,
                "source": "table 1 (seen)",
            },
        )
    )
    assert text == "p:1 covers wall up to 130 mm, this is 131.25 mm; table 1 (seen) [scope.above]"


def finding(code: str, measured: float | None, limit: float | None, unit: str = "s") -> Finding:
    return Finding(
        code=code, severity=Severity.FAULT, measured=measured, limit=limit, unit=unit,
        start_s=0.0, end_s=1.0, clause="t1",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("code", "measured", "limit", "unit", "text"),
    [
        ("changeover.duration.long", 9.84, 8.0, "s", "Changeover took too long: 9.84 s, limit 8 s; t1"),
        ("cooling.pressure.low", 29.1, 30.7, "bar", "Cooling pressure too low: 29.1 bar, limit 30.7 bar; t1"),
        ("plate.temperature.high", 233.0, 230.0, "K", "Plate temperature too high: 233 K, limit 230 K; t1"),
        ("heat_soak.contact.lost", None, None, "", "Heat soak faces parted; t1"),
        ("rig.new_thing.odd", 1.0, None, "1", "Rig new thing odd: 1 1; t1"),
    ],
)  # fmt: skip
def test_a_finding_in_words(
    code: str, measured: float | None, limit: float | None, unit: str, text: str
) -> None:
    assert finding_text(finding(code, measured, limit, unit)) == text
