"""Procedure files: what is wrong is named, and nothing overrides anything silently."""

from importlib import resources
from pathlib import Path

import pytest

from logger.config.joint_file import joint_of
from logger.config.procedures import available_procedures, load_procedure, procedure_of
from logger.domain.source import Mark
from logger.errors import InputError

TEXT = (resources.files("configs") / "procedures" / "dvs-2207-1-2005.toml").read_text(encoding="utf-8")
JOINT = """\
joint = "A-9"
procedure = "dvs-2207-1:2015"
ambient_temperature = "20 degC"

[pipe]
material = "PE100"
outside_diameter = "110 mm"
sdr = 11
"""


def error_of(*changes: tuple[str, str]) -> str:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(InputError) as wrong:
        procedure_of(text, "own.toml")
    return str(wrong.value).split(": ", 1)[1]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (('edition = "', 'editon = "'), "editon: unknown key; did you mean edition?"),
        (
            ('target = "guide.bead_mm"', 'target = "guide.bed_mm"'),
            '[step.1.bead] target: unknown column "guide.bed_mm"; nearest: bead_mm',
        ),
        (
            ('min = "10 * wall"', 'min = "10 x wall"'),
            '[step.2.duration] min: "10 x wall" is not a formula: unexpected at character 4',
        ),
        (
            ('unit = "N/mm2", source = "alignment"', 'unit = "s", source = "alignment"'),
            '[step.1.interface_pressure] unit: unit "s" does not fit here; one of N/mm2, MPa, kPa, bar, psi',
        ),
        (
            ('source = "alignment"', 'source = "alinement"'),
            '[step.1.interface_pressure] source: unknown source "alinement"; nearest: alignment',
        ),
        (
            ('"PE80", "PE100"]', '"PE80", "PE10"]'),
            '[scope.materials] are: unknown material "PE10"; nearest: PE100, PE80',
        ),
        (
            ("[[4.5, 7], 1.0,", "[[4.6, 7], 1.0,"),
            "[table.guide] rows: row 2 begins at 4.6, the row before ends at 4.5",
        ),
        (("[[4.5, 7], 1.0,", "[[4.5, 7],"), "[table.guide] rows: row 2 has 3 values for 4 columns"),
        (
            ("[[0, 4.5], 0.5,", "[[4.5, 0], 0.5,"),
            "[table.guide] rows: row 1 must begin with [from, to], from below to",
        ),
        (('phase = "changeover"', 'phase = "change"'), None),
        (('mark = "seen"', 'mark = "sure"'), None),
        (('phase = "changeover"', 'phase = "cooling"'), None),
    ],
)
def test_a_wrong_file_names_the_key_and_the_nearest_choice(
    change: tuple[str, str], message: str | None
) -> None:
    said = error_of(change)
    if message is not None:
        assert said == message


def test_steps_in_another_order_are_refused() -> None:
    assert "in this order" in error_of(('phase = "changeover"', 'phase = "cooling"'))


def test_the_line_of_a_wrong_formula_is_named() -> None:
    line = next(number for number, text in enumerate(TEXT.splitlines(), 1) if 'min = "10 * wall"' in text)
    with pytest.raises(InputError) as wrong:
        procedure_of(TEXT.replace('min = "10 * wall"', 'min = "10 * wal"'), "own.toml")
    assert wrong.value.line == line


def test_an_unknown_id_gets_the_nearest_ones() -> None:
    with pytest.raises(InputError, match='unknown procedure "dvs-2207-1:2016"; nearest: dvs-2207-1:2015'):
        load_procedure("dvs-2207-1:2016")


def test_a_company_procedure_stands_beside_the_built_in_ones(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(TEXT.replace('id = "dvs-2207-1:2005"', 'id = "weir-works:3"'))
    found = available_procedures([tmp_path])
    assert {"weir-works:3", "dvs-2207-1:2005"} <= set(found)
    assert load_procedure("weir-works:3", [tmp_path]).file == str(tmp_path / "own.toml")


def test_a_company_procedure_overrides_nothing(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(TEXT)
    with pytest.raises(InputError, match=r'own.toml: id: "dvs-2207-1:2005" is already the id of built-in'):
        load_procedure("dvs-2207-1:2005", [tmp_path])
    assert load_procedure("dvs-2207-1:2015", [tmp_path]).file.startswith("built-in")


@pytest.mark.parametrize("wrong", ['id = "weir-works:3"\nthis is no TOML', 'id = "weir-works:3"\n'])
def test_a_broken_company_file_refuses_its_own_procedure_only(tmp_path: Path, wrong: str) -> None:
    (tmp_path / "broken.toml").write_text(wrong)
    (tmp_path / "own.toml").write_text(TEXT.replace('id = "dvs-2207-1:2005"', 'id = "weir-works:4"'))
    assert load_procedure("weir-works:4", [tmp_path]).id == "weir-works:4"
    assert load_procedure("dvs-2207-1:2015", [tmp_path])
    with pytest.raises(InputError, match=r"broken\.toml"):
        load_procedure("weir-works:3", [tmp_path])
    joint = JOINT.replace("dvs-2207-1:2015", "weir-works:3")
    with pytest.raises(InputError, match=r"broken\.toml"):
        joint_of(joint, "joint.toml", available_procedures([tmp_path]))
    assert joint_of(JOINT, "joint.toml", available_procedures([tmp_path])).joint == "A-9"


def test_a_file_without_a_readable_id_is_named_where_an_id_is_unknown(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_bytes(b"\xff\xfe no id here")
    found = available_procedures([tmp_path])
    assert list(found.refused) == ["own.toml"]
    with pytest.raises(InputError, match=r"unknown procedure .*own\.toml"):
        load_procedure("weir-works:3", [tmp_path])


def test_one_id_in_two_company_files_is_refused_naming_both(tmp_path: Path) -> None:
    text = TEXT.replace('id = "dvs-2207-1:2005"', 'id = "weir-works:3"')
    for name in ("a.toml", "b.toml", "c.toml"):
        (tmp_path / name).write_text(text)
    with pytest.raises(InputError, match=r"b\.toml.*a\.toml"):
        load_procedure("weir-works:3", [tmp_path])


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is not a folder of procedure files"):
        available_procedures([tmp_path / "none"])


def test_every_value_of_every_built_in_procedure_has_a_source() -> None:
    for procedure in available_procedures().values():
        bands = [*procedure.plate_temperature_degC, *procedure.cooling_ends_s.values()]
        for step in procedure.steps:
            bands += [step.interface_pressure_MPa, step.duration_s, step.bead_mm]
        for band in bands:
            given = [edge for edge in (band.min, band.target, band.max) if edge is not None]
            assert bool(given) == (band.source.mark is not Mark.NOT_GIVEN), procedure.id
            assert not given or band.source.text, procedure.id


def test_the_digest_is_that_of_the_file() -> None:
    assert procedure_of(TEXT, "a").digest == procedure_of(TEXT, "b").digest
    assert procedure_of(TEXT + "\n# changed\n", "a").digest != procedure_of(TEXT, "a").digest
