"""The printed plan: units, marks, "not given", and prints that are safe to follow."""

import math

import pytest

from logger.config.joint_file import joint_of
from logger.config.procedures import available_procedures, load_procedure
from logger.domain.band import NO_BAND, Band
from logger.plan.compute import compute_plan
from logger.wording.plan_text import COLUMNS, band_text, duration_text, plan_lines
from logger.wording.units import INCH, Units
from tests.unit.plan.joints import joint, pipe

TEXT = """\
joint = "A-001"
procedure = "dvs-2207-1:2015"
ambient_temperature = "20 degC"
drag_pressure = "12 bar"
[pipe]
material = "PE100"
outside_diameter = "180 mm"
sdr = 11
[rig]
cylinder_area = "6.29 cm2"
"""


def lines_of(text: str = TEXT, units: Units | None = None) -> list[str]:
    entered = joint_of(text)
    plan = compute_plan(entered, load_procedure(entered.procedure))
    return plan_lines(plan) if units is None else plan_lines(plan, units)


def line_with(lines: list[str], label: str, number: int = 0) -> str:
    return [line for line in lines if line.strip().startswith(label)][number]


def test_values_stand_with_unit_and_mark() -> None:
    lines = lines_of()
    plate = line_with(lines, "plate surface")
    assert "210 to 230 degC, target 220" in plate
    assert plate.endswith("from memory: check against your own copy")
    assert "at least 164 s (2 min 44 s)" in line_with(lines, "duration", 1)
    assert any("DVS 2207-1:2015-08, table of guide values" in line for line in lines)


def test_what_the_procedure_leaves_out_is_not_given() -> None:
    assert line_with(lines_of(), "duration", 0).split() == ["duration", "not", "given"]
    assert not any(" 0.0 s" in line for line in lines_of())


def test_no_line_is_too_long_and_the_cautions_come_last() -> None:
    for units in (Units(), INCH):
        lines = lines_of(units=units)
        assert max(map(len, lines)) <= COLUMNS
        assert lines.index("Cautions") > lines.index("Sources")
    assert any("it does not certify" in line for line in lines)


def test_without_drag_no_gauge_line_and_a_remark_that_says_why() -> None:
    lines = lines_of(TEXT.replace('drag_pressure = "12 bar"\n', ""))
    assert not any(line.strip().startswith("gauge") for line in lines)
    assert any("Drag is not measured yet" in line for line in lines)


def test_inch_units() -> None:
    lines = lines_of(units=INCH)
    assert "410 to 446 degF, target 428" in line_with(lines, "plate surface")
    assert "psi" in line_with(lines, "gauge")
    assert "dn 7.08661 in" in line_with(lines, "pipe")


@pytest.mark.parametrize("procedure_id", sorted(available_procedures()))
def test_every_procedure_prints(procedure_id: str) -> None:
    procedure = load_procedure(procedure_id)
    material = sorted(procedure.materials)[0]
    plan = compute_plan(joint(pipe(dn=250, wall=22.7, material=material)), procedure)
    assert max(map(len, plan_lines(plan))) <= COLUMNS


@pytest.mark.parametrize(
    ("band", "text"),
    [
        (Band(min=1.01, max=2.09), "1.1 to 2.0 bar"),
        (Band(min=0.1 + 0.2, max=0.1 + 0.2), "0.3 to 0.3 bar"),
        (Band(target=1.54), "1.5 bar"),
        (Band(min=1.0, target=1.0), "at least 1.0 bar"),
        (Band(target=2.0, max=2.0), "at most 2.0 bar"),
        (Band(target=1.5, max=2.0), "at most 2.0 bar, target 1.5"),
        (NO_BAND, "not given"),
        (Band(min=0.0), "at least 0.0 bar"),
    ],
)
def test_a_band_in_words_is_safe_to_follow(band: Band, text: str) -> None:
    assert band_text(band, "bar", float, 1) == text


@pytest.mark.parametrize(
    ("band", "text"),
    [
        (Band(min=944.4), "at least 945 s (15 min 45 s)"),
        (Band(max=9.87), "at most 9.8 s"),
        (Band(min=119.95), "at least 120.0 s"),
        (NO_BAND, "not given"),
        (Band(min=math.pi * 100), "at least 315 s (5 min 15 s)"),
    ],
)
def test_a_duration_in_words(band: Band, text: str) -> None:
    assert duration_text(band) == text
