"""`[plate_surface]` of the rig file: read, dated, due; what is wrong is named with its line."""

import pytest

from logger.config.rig_file import rig_of
from logger.domain.commissioning import Outcome, Trial, plate_result, rig_fingerprint
from logger.domain.plate_surface import age_days
from logger.domain.rig import overdue_of
from logger.domain.source import Mark
from logger.errors import InputError
from logger.wording.commission_text import key_lines
from logger.wording.plate_text import surface_line
from tests.unit.config.test_rig_file import TEXT

TABLE = """
[plate_surface]
measured = 2026-11-01
instrument = "contact thermometer 4711"
[plate_surface.a]
offset = "-2.4 K"
spread = "3 K"
[plate_surface.b]
offset = "1.8 degF"
spread = "0.5 K"
"""


def test_both_faces_are_read_and_due_after_half_a_year():
    check = rig_of(TEXT + TABLE).rig.plate_surface
    assert [(one.face, one.offset_K, one.spread_K) for one in check.faces] == [
        ("a", -2.4, 3.0),
        ("b", 1.0, 0.5),
    ]
    assert (check.measured_on, check.due) == ("2026-11-01", "2027-05-03")
    assert check.due_source.mark is Mark.PRACTICE
    assert age_days(check, "2026-11-28T10:00:00Z") == 27
    assert rig_of(TEXT).rig.plate_surface is None


def test_an_interval_of_ones_own_is_declared():
    text = TABLE.replace('4711"\n', '4711"\ndue_after_days = 30\n')
    check = rig_of(TEXT + text).rig.plate_surface
    assert check.due == "2026-12-01"
    assert check.due_source.mark is Mark.GIVEN


def test_overdue_stands_beside_overdue_calibrations():
    rig = rig_of(TEXT + TABLE).rig
    assert "plate_surface" not in overdue_of(rig, "2027-05-03")
    assert "plate_surface" in overdue_of(rig, "2027-05-04")
    line = surface_line(rig.plate_surface, "2027-05-04")
    assert "contact thermometer 4711; face a -2.4 K, spread 3.0 K" in line
    assert "184 days before" in line
    assert (
        "OVERDUE since 2027-05-03 (both faces read again every half year, common practice, no source)" in line
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"-2.4 K"', '"-2.4"', "[plate_surface.a] offset"),
        ('"3 K"', '"-3 K"', "below 0"),
        ("measured = 2026-11-01\n", "", "measured"),
        ("instrument", "instrumnt", "instrument"),
    ],
)
def test_what_is_wrong_is_named(old, new, words):
    with pytest.raises(InputError, match=r"rig:\d+: ") as error:
        rig_of(TEXT + TABLE.replace(old, new))
    assert words in str(error.value)


def test_what_commission_prints_is_read_back():
    results = [
        plate_result("a", [218.0, 217.0, 219.5, 218.5], 221.0, 'probe "T" 7'),
        plate_result("b", [222.0, 221.0, 221.5, 222.5], 221.0, 'probe "T" 7'),
    ]
    assert {(r.trial, r.outcome) for r in results} == {(Trial.PLATE, Outcome.MEASURED)}
    rig = rig_of(TEXT + "\n".join(key_lines(results, "2026-11-28", ""))).rig
    faces = {one.face: one for one in rig.plate_surface.faces}
    assert faces["a"].offset_K == pytest.approx(-2.75)
    assert faces["b"].spread_K == pytest.approx(1.5)
    assert rig.plate_surface.instrument == 'probe "T" 7'


def test_reading_the_surface_makes_no_other_rig():
    assert rig_fingerprint('{"rig": {"name": "r", "plate_surface": {"due": "x"}}}') == rig_fingerprint(
        '{"rig": {"name": "r"}}'
    )
