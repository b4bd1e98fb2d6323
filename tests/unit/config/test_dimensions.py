"""Dimension tables: every cell that was read, the series rule against them, inch sizes."""

import pytest

from logger.config.dimensions import dimension_tables
from logger.config.joint_file import joint_of
from logger.config.procedures import load_procedure
from logger.domain.geometry import greatest_wall_mm, series_wall_mm
from logger.domain.joint import WallRule
from logger.domain.source import Mark
from logger.errors import InputError
from logger.plan.compute import compute_plan

SDRS = (6.0, 7.4, 9.0, 11.0, 13.6, 17.0)
SERIES = {6.0: 4, 7.4: 5, 9.0: 6, 11.0: 7, 13.6: 8, 17.0: 9, 21.0: 10, 26.0: 11, 33.0: 12, 41.0: 13}

# MS 1058-2:2005 (based on ISO 4065), dn and e_min/e_max for SDR 6, 7.4, 9, 11, 13.6, 17.
MS_1058 = """
90 15.0/16.7 12.3/13.7 10.1/11.3 8.2/9.2 6.7/7.5 5.4/6.1
110 18.3/20.3 15.1/16.8 12.3/13.7 10.0/11.1 8.1/9.1 6.6/7.4
125 20.8/23.0 17.1/19.0 14.0/15.6 11.4/12.7 9.2/10.3 7.4/8.3
140 23.3/25.8 19.2/21.3 15.7/17.4 12.7/14.1 10.3/11.5 8.3/9.3
160 26.6/29.4 21.9/24.2 17.9/19.8 14.6/16.2 11.8/13.1 9.5/10.6
180 29.9/33.0 24.6/27.2 20.1/22.3 16.4/18.2 13.3/14.8 10.7/11.9
200 33.3/36.7 27.4/30.3 22.4/24.8 18.2/20.2 14.7/16.3 11.9/13.2
225 37.4/41.3 30.8/34.0 25.2/27.9 20.5/22.7 16.6/18.4 13.4/14.9
250 41.5/45.8 34.2/37.8 27.9/30.8 22.7/25.1 18.4/20.4 14.8/16.4
280 46.5/51.3 38.3/42.3 31.3/34.6 25.4/28.1 20.6/22.8 16.6/18.4
315 52.3/57.7 43.1/47.6 35.2/38.9 28.6/31.6 23.2/25.7 18.7/20.7
355 59.0/65.0 48.5/53.5 39.7/43.8 32.2/35.6 26.1/28.9 21.1/23.4
400 - 54.7/60.3 44.7/49.3 36.3/40.1 29.4/32.5 23.7/26.2
450 - 61.5/67.8 50.3/55.5 40.9/45.1 33.1/36.6 26.7/29.5
500 - - 55.8/61.5 45.4/50.1 36.8/40.6 29.7/32.8
560 - - - 50.8/56.0 41.2/45.5 33.2/36.7
"""
CELLS = [
    (float(dn), sdr, float(cell.split("/")[0]), float(cell.split("/")[1]))
    for dn, *cells in (line.split() for line in MS_1058.strip().splitlines())
    for sdr, cell in zip(SDRS, cells, strict=True)
    if cell != "-"
]


def test_89_cells_were_read() -> None:
    assert len(CELLS) == 89


@pytest.mark.parametrize(("dn", "sdr", "least", "greatest"), CELLS)
def test_a_printed_cell_is_given_as_printed(dn: float, sdr: float, least: float, greatest: float) -> None:
    table = dimension_tables()["iso-4065"]
    assert table.wall(dn, sdr, WallRule.TABLE_MIN).wall_mm == least
    assert table.wall(dn, sdr, WallRule.TABLE_MAX).wall_mm == greatest
    mean = table.wall(dn, sdr, WallRule.TABLE_MEAN)
    assert mean.wall_mm == pytest.approx((least + greatest) / 2)
    assert mean.source.mark is Mark.SEEN


def test_the_series_rule_gives_88_of_89_least_and_86_of_89_greatest_walls() -> None:
    least = {(dn, sdr) for dn, sdr, printed, _ in CELLS if series_wall_mm(dn, SERIES[sdr]) != printed}
    greatest = {(dn, sdr) for dn, sdr, low, high in CELLS if greatest_wall_mm(low) != high}
    assert least == {(200.0, 6.0)}
    assert greatest == {(90.0, 6.0), (125.0, 9.0), (200.0, 6.0)}


# AS/NZS 4130 as a data package restates it: the rule gives every cell of SDR 21, 33 and 41.
THIN = {
    21.0: (32, "1.6 1.9 2.4 3.0 3.6 4.3 5.3 6.0 6.7 7.7 8.6 9.6 10.8 11.9 13.4 15.0 16.9 19.1"),
    33.0: (75, "2.3 2.8 3.4 3.9 4.3 4.9 5.5 6.2 6.9 7.7 8.6 9.7 10.9 12.3 13.8 15.3 17.2 19.3 "
          "21.8 24.5 27.6 30.6"),
    41.0: (110, "2.7 3.1 3.5 4.0 4.4 4.9 5.5 6.2 6.9 7.7 8.7 9.8 11.0 12.3 13.7 15.4 17.4 19.6 22.0 24.5"),
}  # fmt: skip
THIN_SIZES = [
    32, 40, 50, 63, 75, 90, 110, 125, 140, 160, 180, 200, 225, 250, 280, 315, 355, 400, 450, 500, 560,
    630, 710,
    800, 900, 1000, 1200,
]  # fmt: skip


@pytest.mark.parametrize("sdr", THIN)
def test_thin_series_cell_by_cell_and_by_the_rule(sdr: float) -> None:
    start, walls = THIN[sdr]
    table = dimension_tables()["iso-4065"]
    sizes = THIN_SIZES[THIN_SIZES.index(start) :]
    for dn, wall in zip(sizes, walls.split(), strict=False):
        cell = table.wall(dn, sdr, WallRule.TABLE_MIN)
        assert (cell.wall_mm, cell.source.mark) == (float(wall), Mark.SEEN), dn
        assert series_wall_mm(dn, SERIES[sdr]) == float(wall), dn


# A pipe maker's brochure, least walls for SDR 17, 13.6, 11, 9, 7.4.
SMALL = """
20 - - 2.0 2.3 3.0
25 - 2.0 2.3 3.0 3.5
32 2.0 2.4 3.0 3.6 4.4
40 2.4 3.0 3.7 4.5 5.5
50 3.0 3.7 4.6 5.6 6.9
63 3.8 4.7 5.8 7.1 8.6
75 4.5 5.6 6.8 8.4 10.3
"""


def test_small_sizes_as_printed() -> None:
    table = dimension_tables()["iso-4065"]
    for line in SMALL.strip().splitlines():
        dn, *walls = line.split()
        for sdr, wall in zip((17, 13.6, 11, 9, 7.4), walls, strict=True):
            if wall != "-":
                assert table.wall(float(dn), sdr, WallRule.TABLE_MIN).wall_mm == float(wall), (dn, sdr)


def test_a_cell_that_was_not_read_is_computed_and_says_so() -> None:
    table = dimension_tables()["iso-4065"]
    for dn, sdr, wall in ((630, 11, 57.2), (630, 17, 37.4), (2000, 41, 48.9)):
        cell = table.wall(dn, sdr, WallRule.TABLE_MIN)
        assert (cell.wall_mm, cell.source.mark) == (wall, Mark.COMPUTED)
    assert table.wall(63, 11, WallRule.TABLE_MEAN).source.mark is Mark.COMPUTED


def test_every_size_and_series_has_a_wall_that_grows_with_the_size() -> None:
    table = dimension_tables()["iso-4065"]
    assert (table.sizes_mm()[0], table.sizes_mm()[-1]) == (16.0, 2000.0)
    for sdr in SERIES:
        walls = [table.wall(dn, sdr, WallRule.TABLE_MIN).wall_mm for dn in table.sizes_mm()]
        assert walls == sorted(walls)


@pytest.mark.parametrize(
    ("size", "od_in", "dr", "wall_in", "mark"),
    [
        ("IPS 1", 1.315, 11, 0.120, Mark.SEEN),
        ("IPS 2", 2.375, 11, 0.216, Mark.SEEN),
        ("IPS 3", 3.5, 11, 0.318, Mark.SEEN),
        ("IPS 8", 8.625, 11, 0.784, Mark.COMPUTED),
        ("DIPS 12", 13.2, 17, 0.776, Mark.COMPUTED),
        ("ips 54", 54.0, 21, 2.571, Mark.COMPUTED),
    ],
)
def test_inch_sizes(size: str, od_in: float, dr: float, wall_in: float, mark: Mark) -> None:
    end = joint_of(text(f'nominal_size = "{size}"\nsdr = {dr}\nwall_rule = "table-min"')).pipe_a
    assert end.outside_diameter_mm / 25.4 == pytest.approx(od_in)
    assert end.wall_mm / 25.4 == pytest.approx(wall_in)
    assert end.wall_source.mark is mark


def text(pipe: str) -> str:
    return (
        'joint = "A"\nprocedure = "dvs-2207-1:2015"\nambient_temperature = "20 degC"\n'
        f'[pipe]\nmaterial = "PE100"\n{pipe}\n'
    )


@pytest.mark.parametrize(
    ("rule", "wall"), [("table-min", 16.4), ("table-mean", 17.3), ("table-max", 18.2), ("dn/sdr", 180 / 11)]
)
def test_the_joint_file_names_the_rule_and_the_plan_says_it(rule: str, wall: float) -> None:
    joint = joint_of(text(f'outside_diameter = "180 mm"\nsdr = 11\nwall_rule = "{rule}"'))
    assert joint.pipe_a.wall_mm == pytest.approx(wall)
    plan = compute_plan(joint, load_procedure("dvs-2207-1:2015"))
    assert plan.wall_rule == rule
    codes = [remark.code for remark in plan.remarks]
    assert ("remark.wall_from_sdr" if rule == "dn/sdr" else "remark.wall_from_table") in codes


@pytest.mark.parametrize(
    ("pipe", "line"),
    [
        (
            'outside_diameter = "180 mm"\nsdr = 17.6\nwall_rule = "table-min"',
            'j.toml:8: [pipe] wall_rule: no SDR 17.6 in ISO 4065 family, metric; nearest: 17',
        ),
        (
            'outside_diameter = "181 mm"\nsdr = 17\nwall_rule = "table-min"',
            "j.toml:8: [pipe] wall_rule: no outside diameter 181 mm in ISO 4065 family, metric",
        ),
        (
            'nominal_size = "IPS 8"\nsdr = 11\nwall_rule = "table-mean"',
            "j.toml:8: [pipe] wall_rule: IPS, iron pipe size has no greatest wall for 8; "
            "use table-min or the wall",
        ),
        (
            'nominal_size = "IPS 9"\nsdr = 11',
            "j.toml:6: [pipe] nominal_size: no size \"9\" in IPS, iron pipe size",
        ),
        (
            'nominal_size = "8 in"\nsdr = 11',
            'j.toml:6: [pipe] nominal_size: "8 in" is no size like "IPS 8" or "DIPS 12"',
        ),
        (
            'nominal_size = "IPS 8"\noutside_diameter = "180 mm"\nsdr = 11',
            "j.toml:6: [pipe] nominal_size: outside_diameter is given too; leave one out",
        ),
        ("sdr = 11", "j.toml:4: [pipe] outside_diameter: outside_diameter or nominal_size is needed"),
        (
            'outside_diameter = "180 mm"\nwall_thickness = "16.4 mm"\nwall_rule = "table-min"',
            'j.toml:8: [pipe] wall_rule: "table-min" and wall_thickness exclude each other; leave one out',
        ),
        (
            'outside_diameter = "180 mm"\nsdr = 11\nwall_rule = "table-mn"',
            'j.toml:8: [pipe] wall_rule: unknown rule "table-mn"; nearest: table-min, table-mean',
        ),
        (
            'outside_diameter = "180 mm"\nsdr = 11\ndimension_table = "iso-4066"',
            'j.toml:8: [pipe] dimension_table: unknown table "iso-4066"; nearest: iso-4065',
        ),
    ],
)  # fmt: skip
def test_what_no_table_has_is_named(pipe: str, line: str) -> None:
    with pytest.raises(InputError) as wrong:
        joint_of(text(pipe), "j.toml")
    assert str(wrong.value) == line
