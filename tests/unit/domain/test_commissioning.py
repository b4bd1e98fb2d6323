"""Interruptions as a watched channel shows them, and the figures of a commissioning."""

import json

import pytest

from logger.domain.commissioning import (
    Interruption,
    Outcome,
    Seen,
    area_result,
    interruptions,
    leak_down_result,
    plate_result,
    rig_fingerprint,
)


def watched(*stretches: tuple[float, float, str]) -> list[Seen]:
    """Ten readings a second over each stretch (from, to, reason)."""
    return [
        Seen(t_s=k / 10, reason=reason)
        for begin, end, reason in stretches
        for k in range(round(begin * 10), round(end * 10))
    ]


def test_a_pulled_wire_is_timed_from_the_last_good_reading_to_the_next():
    seen = watched((0, 5, ""), (5, 8, "loop_low"), (8, 10, ""))
    assert list(interruptions(seen, 10, 10.0)) == [Interruption(from_s=4.9, to_s=8.0, reason="loop_low")]


def test_an_unplugged_converter_is_a_gap():
    seen = watched((0, 5, ""), (7, 10, ""))
    assert list(interruptions(seen, 10, 10.0)) == [Interruption(from_s=4.9, to_s=7.0, reason="gap")]


@pytest.mark.parametrize("tail", [(), ((5, 10, "loop_low"),)])
def test_what_does_not_come_back_has_no_end(tail):
    (found,) = interruptions(watched((0, 5, ""), *tail), 10, 10.0)
    assert found.to_s is None
    assert found.reason == ("loop_low" if tail else "gap")


def test_a_channel_that_goes_on_shows_nothing():
    assert list(interruptions(watched((0, 10, "")), 10, 10.0)) == []
    assert list(interruptions([], 10, 10.0)) == []


def test_a_wire_that_is_off_from_the_first_reading_on():
    seen = watched((0, 3, "loop_low"), (3, 10, ""))
    assert list(interruptions(seen, 10, 10.0)) == [Interruption(from_s=0.0, to_s=3.0, reason="loop_low")]
    never = Interruption(from_s=0.0, to_s=None, reason="loop_low")
    assert list(interruptions(watched((0, 10, "loop_low")), 10, 10.0)) == [never]


def test_a_late_reading_is_no_gap():
    assert list(interruptions([Seen(t_s=t) for t in (0.0, 0.1, 0.55, 0.6)], 10, 0.7)) == []


def test_a_pressure_that_was_still_pumped_up_is_no_leak():
    found = leak_down_result([k / 10 for k in range(60)], [8.0 + 0.5 * k for k in range(60)], None)
    assert found.outcome is Outcome.FAILED
    assert "not shut in" in found.note


@pytest.mark.parametrize(("plate", "outcome"), [(629.0, Outcome.PASSED), (1414.0, Outcome.FAILED)])
def test_the_area_is_held_against_the_nameplate(plate, outcome):
    assert area_result(plate, 630.0).outcome is outcome


def test_a_leak_is_told_in_bar_a_minute():
    t_s = [k / 10 for k in range(600)]
    result = leak_down_result(t_s, [40 - 0.02 * t for t in t_s], 1.0)
    assert result.figures["bar_per_min"] == pytest.approx(1.2)
    assert result.figures["before_fitting_bar_per_min"] == 1.0
    assert leak_down_result([0.0], [40.0], None).outcome is Outcome.FAILED
    assert leak_down_result(t_s, [0.1] * 600, None).outcome is Outcome.FAILED, "nothing was shut in"


def test_the_faces_are_held_against_the_built_in_sensor():
    figures = plate_result("a", [214.0, 216.0, 218.0], 220.0, "K-9").figures
    assert figures["offset_degC"] == -4.0
    assert (figures["least_degC"], figures["greatest_degC"]) == (214.0, 218.0)


def test_the_fingerprint_is_the_rigs_not_that_of_its_commissioning():
    rig = {"format": 1, "rig": {"name": "r", "serial": "1", "commissioned_lag": None}}
    first = rig_fingerprint(json.dumps(rig))
    rig["rig"]["commissioned_lag"] = {"lag_s": 0.2}
    assert rig_fingerprint(json.dumps(rig)) == first
    rig["rig"]["serial"] = "2"
    assert rig_fingerprint(json.dumps(rig)) != first


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"rig": 7}', "{"])
def test_a_rig_in_another_form_has_a_fingerprint_too(text):
    assert len(rig_fingerprint(text)) == 32
    assert rig_fingerprint(text) != rig_fingerprint(text + " ")
