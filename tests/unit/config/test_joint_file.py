"""joint.toml: what is read, and one located line for everything that is wrong."""

from importlib import resources
from pathlib import Path

import pytest

from logger.config.joint_file import joint_of, load_joint, with_rig
from logger.config.procedures import load_procedure
from logger.domain.joint import WallRule
from logger.domain.rig import Rig
from logger.errors import InputError
from logger.plan.compute import compute_plan

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


def read(*changes: tuple[str, str]) -> object:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return joint_of(text, "joint.toml")


def error_of(*changes: tuple[str, str]) -> str:
    with pytest.raises(InputError) as wrong:
        read(*changes)
    assert "\n" not in str(wrong.value)
    return str(wrong.value)


def test_the_plain_file() -> None:
    joint = joint_of(TEXT)
    assert (joint.joint, joint.procedure) == ("A-001", "dvs-2207-1:2015")
    assert joint.pipe_a == joint.pipe_b
    assert joint.pipe_a.wall_mm == pytest.approx(180 / 11)
    assert joint.pipe_a.wall_rule is WallRule.DN_OVER_SDR
    assert (joint.drag_pressure_bar, joint.piston_area_mm2) == (12.0, 629.0)


def test_drag_ambient_and_rig_may_be_left_out() -> None:
    joint = joint_of(
        TEXT.split("[rig]")[0]
        .replace('drag_pressure = "12 bar"\n', "")
        .replace('ambient_temperature = "20 degC"\n', "")
    )
    assert joint.drag_pressure_bar is joint.ambient_temperature_degC is joint.piston_area_mm2 is None


def test_bore_rod_and_cylinders() -> None:
    joint = joint_of(
        TEXT.replace('cylinder_area = "6.29 cm2"', 'bore = "50 mm"\nrod = "40 mm"\ncylinders = 2')
    )
    assert joint.piston_area_mm2 == pytest.approx(1413.717, abs=0.001)


def test_a_plate_with_three_digits_agrees_with_bore_and_rod() -> None:
    cylinders = 'cylinder_area = "14.1 cm2"\nbore = "50 mm"\nrod = "40 mm"\ncylinders = 2'
    joint = joint_of(TEXT.replace('cylinder_area = "6.29 cm2"', cylinders))
    assert joint.piston_area_mm2 == pytest.approx(1413.717, abs=0.001)


def test_an_agreeing_wall_governs_over_sdr() -> None:
    joint = joint_of(TEXT.replace("sdr = 11", 'sdr = 11\nwall_thickness = "16.4 mm"'))
    assert (joint.pipe_a.wall_mm, joint.pipe_a.sdr) == (16.4, 11.0)
    assert joint.pipe_a.wall_rule is WallRule.ENTERED


def test_two_ends() -> None:
    joint = joint_of(
        TEXT.split("[pipe]")[0]
        + '[pipe.a]\nmaterial = "PE100"\noutside_diameter = "180 mm"\nsdr = 11\ncode = "X1"\n'
        + '[pipe.b]\nmaterial = "PE80"\noutside_diameter = "180 mm"\nwall_thickness = "16.4 mm"\n'
    )
    assert (joint.pipe_a.material, joint.pipe_b.material) == ("PE100", "PE80")
    assert (joint.pipe_a.code, joint.pipe_b.wall_mm) == ("X1", 16.4)


WRONG = [
    (("material =", "materal ="), "joint.toml:7: [pipe] materal: unknown key; did you mean material?"),
    (("joint =", "jiont ="), "joint.toml:1: jiont: unknown key; did you mean joint?"),
    (("[rig]", "[rigg]"), "joint.toml:11: rigg: unknown key; did you mean rig?"),
    (
        ('"180 mm"', '"180 bar"'),
        'joint.toml:8: [pipe] outside_diameter: "180 bar" is a pressure; a length like "180 mm" is needed',
    ),
    (
        ('"180 mm"', '"-180 mm"'),
        'joint.toml:8: [pipe] outside_diameter: "-180 mm" cannot be: more than 0 mm is needed',
    ),
    (
        ('"180 mm"', "180"),
        'joint.toml:8: [pipe] outside_diameter: 180 has no unit; a length like "180 mm" is needed',
    ),
    (
        ("sdr = 11", 'sdr = 11\nwall_thickness = "10 mm"'),
        "joint.toml:10: [pipe] wall_thickness: 10 mm conflicts with sdr 11, which gives 16.36 mm for dn 180; "
        "leave one out",
    ),
    (("sdr = 11\n", ""), "joint.toml:6: [pipe] sdr: sdr or wall_thickness is needed"),
    (("sdr = 11", 'sdr = "11"'), "joint.toml:9: [pipe] sdr: input should be a valid number, given '11'"),
    (
        ("sdr = 11", "sdr = 1"),
        "joint.toml:9: [pipe] sdr: input should be greater than or equal to 3, given 1",
    ),
    (("sdr = 11", "sdr = nan"), "joint.toml:9: [pipe] sdr: input should be a finite number, given nan"),
    (
        ("sdr = 11", 'wall_thickness = "90 mm"'),
        "joint.toml:9: [pipe] wall_thickness: 90 mm leaves no bore in a pipe of 180 mm outside diameter",
    ),
    (
        ("2207-1:2015", "2207-1:2051"),
        'joint.toml:2: procedure: unknown procedure "dvs-2207-1:2051"; '
        "nearest: dvs-2207-1:2015, dvs-2207-1:2005",
    ),
    (
        ('"PE100"', '"PE-100"'),
        'joint.toml:7: [pipe] material: unknown material "PE-100"; nearest: PE100, PE80',
    ),
    (('"A-001"', "7"), "joint.toml:1: joint: input should be a valid string, given 7"),
    (('joint = "A-001"\n', ""), "joint.toml: joint: required key is missing"),
    (("[pipe]", "[pipe.a]"), "joint.toml:6: [pipe] b: required key is missing"),
    (
        ('cylinder_area = "6.29 cm2"', 'bore = "40 mm"'),
        "joint.toml:12: [rig] bore: bore, rod and cylinders belong together; add rod, cylinders",
    ),
    (
        ('cylinder_area = "6.29 cm2"', 'bore = "40 mm"\nrod = "40 mm"\ncylinders = 2'),
        "joint.toml:13: [rig] rod: rod 40 mm fills the bore of 40 mm",
    ),
    (
        ("[rig]", '[rig]\nbore = "50 mm"\nrod = "40 mm"\ncylinders = 2'),
        "joint.toml:15: [rig] cylinder_area: 629.0 mm2 differs from the 1413.7 mm2 of bore, rod and number; "
        "correct one",
    ),
    (
        ("[pipe]", 'options = ["workshop"]\n[pipe]'),
        'joint.toml:6: options: unknown option "workshop"; nearest: workshop-reduction',
    ),
    (("sdr = 11", "sdr = 11\nsdr = 17"), "joint.toml:10: [pipe] sdr: stands twice; leave one out"),
    (('"A-001"', '"A-001'), "joint.toml:1: is not TOML: Illegal character '\\n'"),
]


@pytest.mark.parametrize(("change", "line"), WRONG)
def test_bad_input_names_file_line_key_and_choice(change: tuple[str, str], line: str) -> None:
    assert error_of(change) == line


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"\xff\xfe\x00binary", "is not UTF-8 text; a TOML text file is needed"),
        (b"joint = 'a'\x00", "is a binary file; a TOML text file is needed"),
        (b"#" * 1_000_001, "is larger than 1 MB; a TOML text file is needed"),
    ],
)
def test_a_file_that_is_no_text(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "joint.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as wrong:
        load_joint(path)
    assert str(wrong.value) == f"{path}: {message}"


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"absent.toml: no such file"):
        load_joint(tmp_path / "absent.toml")
    with pytest.raises(InputError, match="is a directory; a TOML file is needed"):
        load_joint(tmp_path)


def test_the_example_is_read() -> None:
    with resources.as_file(resources.files("configs") / "examples" / "joint.toml") as path:
        joint = load_joint(path)
    assert joint.pipe_a.outside_diameter_mm == 180


def test_the_rig_gives_the_area_and_a_different_one_is_an_error() -> None:
    without = joint_of(TEXT.split("[rig]")[0])
    assert with_rig(without, Rig(name="r", piston_area_mm2=1000.0)).piston_area_mm2 == 1000.0
    assert with_rig(joint_of(TEXT), Rig(name="r", piston_area_mm2=629.0)).piston_area_mm2 == 629.0
    assert with_rig(joint_of(TEXT), Rig(name="r")).piston_area_mm2 == 629.0
    with pytest.raises(InputError, match=r"A-001 gives 629.0 mm2 and rig r 700.0 mm2"):
        with_rig(joint_of(TEXT), Rig(name="r", piston_area_mm2=700.0))


def test_a_skinned_pipe_is_planned_by_its_core() -> None:
    joint = joint_of(
        TEXT.replace("sdr = 11", 'sdr = 11\ncore_diameter = "176 mm"\nmelt_flow_rate = 0.5\nkind = "fitting"')
    )
    end = joint.pipe_a
    assert (end.outside_diameter_mm, end.skin_diameter_mm) == (176.0, 180.0)
    assert end.wall_mm == pytest.approx(16.0)
    assert (end.melt_flow_rate, end.is_fitting) == (0.5, True)
    plan = compute_plan(joint, load_procedure("dvs-2207-1:2015"))
    assert "skin_removed" in [check.code for check in plan.preparation]
    plain = compute_plan(joint_of(TEXT), load_procedure("dvs-2207-1:2015"))
    assert "skin_removed" not in [check.code for check in plain.preparation]


def test_a_core_as_wide_as_its_skin_is_refused() -> None:
    said = error_of(("sdr = 11", 'sdr = 11\ncore_diameter = "180 mm"'))
    assert said == "joint.toml:10: [pipe] core_diameter: must be less than the diameter over the skin"


def test_badge_place_and_coordinates_are_kept_as_they_are() -> None:
    joint = joint_of(
        'operator_badge = "000312"\nplace = "Weir Lane"\ncoordinates = [54.5, -1.25]\n' + TEXT, "joint.toml"
    )
    assert (joint.operator_badge, joint.place, joint.coordinates_deg) == (
        "000312",
        "Weir Lane",
        (54.5, -1.25),
    )
    assert joint_of(TEXT).coordinates_deg is None


@pytest.mark.parametrize(
    "line",
    ["coordinates = [94.5, 1.0]", "coordinates = [54.5]", 'coordinates = "here"', "operator_badge = 312"],
)
def test_a_wrong_place_or_badge_names_its_key_and_line(line: str) -> None:
    with pytest.raises(InputError) as wrong:
        joint_of(f"{line}\n{TEXT}", "joint.toml")
    assert str(wrong.value).startswith("joint.toml:1: ")
    assert line.split()[0] in str(wrong.value)


def test_a_code_of_another_form_is_a_remark_of_the_plan() -> None:
    of_form, other = "0119" + "3" * 36, "PE-117"
    for code, expected in ((of_form, 0), (other, 1), ("", 0)):
        joint = read(("sdr = 11", f'sdr = 11\ncode = "{code}"'))
        plan = compute_plan(joint, load_procedure(joint.procedure))
        found = [remark for remark in plan.remarks if remark.code == "remark.code_form"]
        assert len(found) == expected
        if found:
            assert found[0].parameters == {"sides": "both sides", "fault": "not only digits", "digits": 40}
