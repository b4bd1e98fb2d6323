"""A judgement in words: what was weighed, what was missing, what would have settled it, the measures."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Finding, Missing, Settles, Severity, Undecided
from logger.domain.record import Stamp, Statement
from logger.judge.doubts import doubt
from logger.wording.findings import finding_text
from logger.wording.judgement_text import judgement_lines, verdict_lines
from logger.wording.reasons import information_text, undecided_text
from tests.unit.wire.documents import JUDGEMENT

CLOSE = Undecided(
    code="cooling.pressure.low.within_uncertainty",
    missing=Missing.GUARD_BAND,
    settles=Settles.PRESSURE_TRANSMITTER,
    measured=16.4,
    limit=16.2,
    unit="bar",
    standard_uncertainty=0.5,
    conformance_probability=0.655,
    coverage_factor=1.645,
    rule="a rule",
    needed_u=0.1216,
)


def test_a_doubt_prints_its_figures_and_the_transmitter_that_would_have_told():
    assert undecided_text(CLOSE) == (
        "cooling pressure low: the measured value lies too close to the limit for its uncertainty: "
        "16.4 bar, limit 16.2 bar; u 0.5, conformance probability 0.655, k 1.645; a pressure transmitter "
        "with a standard uncertainty of 0.12 bar or less would have settled it"
    )


def test_a_value_at_its_limit_promises_no_transmitter_good_enough():
    at_limit = replace(CLOSE, measured=16.2, needed_u=0.0)
    assert undecided_text(at_limit).endswith("; a pressure transmitter would have settled it") is False
    assert undecided_text(at_limit).endswith("; it stands at its limit, no instrument would have settled it")


@pytest.mark.parametrize(
    ("code", "settled_by"),
    [
        ("changeover.start.opening_not_visible", "the carriage position"),
        ("heat_soak.start.gap_over_boundary", "readings without a gap there"),
        ("plate.temperature.not_observed", "a plate thermometer"),
        ("cooling.pressure.not_observed", "a pressure transmitter"),
        ("cooling.pressure.not_connected", "a gauge at the cylinders"),
        ("cooling.duration.trace_ends", "a recording to the end"),
        ("plate.temperature.contact_not_seen", "a switch that shows the plate in"),
        ("no_plan", "a joint file"),
        ("gauge_pressure_not_planned", "the drag pressure and the piston area"),
    ],
)
def test_each_doubt_names_what_would_have_settled_it(code, settled_by):
    assert undecided_text(doubt(code)).endswith(f"; {settled_by} would have settled it")


def test_a_fault_that_was_weighed_prints_u_probability_and_k():
    finding = Finding(
        code="changeover.duration.long",
        severity=Severity.FAULT,
        measured=9.8,
        limit=8.0,
        unit="s",
        start_s=0.0,
        end_s=9.8,
        clause="t1",
        standard_uncertainty=0.25,
        conformance_probability=3e-13,
        coverage_factor=1.645,
    )
    assert finding_text(finding) == (
        "Changeover took too long: 9.8 s, limit 8 s (u 0.25, conformance probability 3e-13, k 1.645); t1"
    )


def test_information_is_worded_and_an_unknown_code_stays_as_it_is():
    assert information_text("contact.force.not_observed").startswith("contact force not observed")
    assert information_text("some.new_thing") == "some new thing"


def test_the_whole_text_has_doubts_information_measures_and_the_verdict_against_unverified_figures():
    text = " ".join(" ".join(judgement_lines(JUDGEMENT)).split())
    for part in (
        "Could not be decided",
        "the gauge does not show the opening; the carriage position would have settled it",
        "contact force not observed",
        "Measures (they decide nothing)",
        "interface 0.150 MPa, at rest ± 0.020",
        "leak-down 0.05 bar/min, top-ups 3",
        "outside 1 times, at most 1.5 s, 0.7 bar s, first 12.0 s after contact",
        "bar: confirmed 12, in the curve 11.75, spread 0.2, breakaway 15",
    ):
        assert part in text
    assert "(against unverified figures)" in verdict_lines(JUDGEMENT)[0]
    assert "unverified" not in verdict_lines(replace(JUDGEMENT, unverified_limits=False))[0]


def test_what_was_marked_or_read_by_hand_stands_beside_what_was_detected():
    at = Stamp(mono_ms=0, utc="2031-05-04T07:00:00Z")
    mark = {"boundary": "changeover", "at_s": 196.4, "u_s": 0.3, "how": "stop_watch"}
    reading = {"temperature_degC": 219.0, "face": "both", "taken_at_s": 40.0, "instrument": "probe 7"}
    said = (
        Statement(kind="mark", author="S. Brandt", at=at, body=mark),
        Statement(kind="plate_reading", author="S. Brandt", at=at, body=reading),
        Statement(kind="plate_reading", author="S. Brandt", at=at, body=reading | {"u_degC": 1.5}),
    )
    text = " ".join(" ".join(judgement_lines(JUDGEMENT, said)).split())
    assert "start of changeover: marked by hand 196.4 s, u = 0.3 s, by stop watch, S. Brandt" in text
    assert "both sides, at 40.0 s, probe 7, S. Brandt; no uncertainty declared: it decides nothing" in text
    assert "S. Brandt; u = 1.5 degC" in text
