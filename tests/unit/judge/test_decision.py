"""One value against one limit: the guard band is the only place where nothing can be told."""

from dataclasses import replace
from statistics import NormalDist

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from logger.domain.judgement import Missing, Settles, Severity
from logger.judge.case import NOTHING, Outcome, at_least, at_most, edges_of
from logger.judge.decision import (
    JOINT_RISK,
    RULE_NAME,
    Measured,
    chance_at_least,
    chance_at_most,
    chance_inside,
    combined,
    coverage_factor,
)
from logger.judge.doubts import doubts_of
from logger.plan.decidable import COVERAGE_K
from tests.unit.judge.plans import SOURCE, band

VALUES = st.floats(-1000.0, 1000.0)
UNCERTAINTIES = st.floats(0.0, 100.0)


def answer(outcome: Outcome, interval_s: float = 0.1) -> str:
    if outcome.findings:
        return "fail"
    return "undecided" if doubts_of(outcome.weighed, interval_s) else "pass"


def held(value: float, u: float = 0.0, *, low: float, high: float, long_tailed: bool = False) -> str:
    """Against a band, as the rules do it."""
    outcome = NOTHING
    for limit in edges_of(band(low, high=high), "cooling.pressure", "bar"):
        outcome += limit.check(Measured(value, u, long_tailed=long_tailed), 0.0, 1.0)
    return answer(outcome)


@given(limit=VALUES)
def test_without_uncertainty_the_limit_itself_is_kept_and_the_next_number_is_not(limit):
    above, below = limit + abs(limit) * 1e-9 + 1e-9, limit - abs(limit) * 1e-9 - 1e-9
    assert chance_at_most(Measured(limit), limit) == chance_at_least(Measured(limit), limit) == 1.0
    assert chance_at_most(Measured(above), limit) == chance_at_least(Measured(below), limit) == 0.0


@given(limit=VALUES, u=st.floats(1e-3, 100.0), bound=UNCERTAINTIES)
def test_a_value_at_its_limit_keeps_it_in_half_of_all_cases(limit, u, bound):
    assert chance_at_most(Measured(limit, u, bound), limit) == pytest.approx(0.5, abs=1e-9)
    assert chance_at_least(Measured(limit, u, bound), limit) == pytest.approx(0.5, abs=1e-9)


@given(low=VALUES, high=VALUES, limit=VALUES, u=UNCERTAINTIES, bound=UNCERTAINTIES)
def test_a_greater_value_is_never_better_against_a_maximum(low, high, limit, u, bound):
    assume(low <= high)
    one, other = Measured(low, u, bound), Measured(high, u, bound)
    assert chance_at_most(one, limit) >= chance_at_most(other, limit) - 1e-12
    assert chance_at_least(one, limit) <= chance_at_least(other, limit) + 1e-12


@given(value=VALUES, limit=VALUES, u=UNCERTAINTIES, bound=UNCERTAINTIES, factor=st.floats(1.0, 50.0))
def test_a_wider_uncertainty_brings_every_chance_nearer_to_a_half(value, limit, u, bound, factor):
    narrow = chance_at_most(Measured(value, u, bound), limit)
    for wider in (Measured(value, u * factor, bound), Measured(value, u, bound * factor)):
        wide = chance_at_most(wider, limit)
        assert abs(wide - 0.5) <= abs(narrow - 0.5) + 1e-6


@given(value=VALUES, limit=VALUES, u=UNCERTAINTIES, factor=st.floats(1.0, 50.0), long_tailed=st.booleans())
def test_a_wider_uncertainty_never_turns_undecided_into_pass_or_fail(value, limit, u, factor, long_tailed):
    edges = {"low": limit - 5.0, "high": limit + 5.0, "long_tailed": long_tailed}
    narrow, wide = held(value, u, **edges), held(value, u * factor, **edges)
    assert wide in (narrow, "undecided")


@given(value=st.floats(0.0, 50.0), low=st.floats(0.0, 20.0), width=st.floats(0.5, 20.0))
def test_a_vanishing_uncertainty_is_the_plain_comparison(value, low, width):
    edges = (low, low + width)
    assume(min(abs(value - edge) for edge in edges) > 0.002)
    plain = held(value, low=edges[0], high=edges[1])
    assert plain == ("pass" if edges[0] <= value <= edges[1] else "fail")
    assert held(value, 1e-6, low=edges[0], high=edges[1]) == plain


@given(value=VALUES, limit=VALUES, u=UNCERTAINTIES, bound=UNCERTAINTIES)
def test_a_maximum_is_a_minimum_seen_in_a_mirror(value, limit, u, bound):
    mirrored = chance_at_least(Measured(-value, u, bound), -limit)
    assert chance_at_most(Measured(value, u, bound), limit) == pytest.approx(mirrored, abs=1e-12)


@pytest.mark.parametrize(
    ("margin_in_u", "expected"),
    [(1.65, "pass"), (1.64, "undecided"), (0.0, "undecided"), (-1.64, "undecided"), (-1.65, "fail")],
)
def test_the_guard_band_of_one_limit_is_one_sided_ninety_five_per_cent_on_either_side(margin_in_u, expected):
    """1.645 standard uncertainties: the one-sided 95 % quantile of the normal distribution."""
    limit = at_most("x.pressure.high", 10.0, "bar", SOURCE)
    assert answer(limit.check(Measured(10.0 - margin_in_u * 0.5, 0.5), 0.0, 1.0)) == expected
    assert coverage_factor(Measured(0.0, 0.5)) == pytest.approx(COVERAGE_K, abs=1e-3)


@pytest.mark.parametrize(
    ("margin_in_u", "expected"),
    [(1.36, "pass"), (1.355, "undecided"), (0.0, "undecided"), (-1.355, "undecided"), (-1.36, "fail")],
)
def test_the_guard_band_of_a_duration_follows_its_long_tails(margin_in_u, expected):
    """Student's t with 3 degrees of freedom: 2.353 of a one-sided 95 % (from memory) over the root of 3."""
    limit = at_most("x.duration.long", 10.0, "s", SOURCE)
    measured = Measured(10.0 - margin_in_u * 0.5, 0.5, long_tailed=True)
    assert answer(limit.check(measured, 0.0, 1.0)) == expected
    assert coverage_factor(measured) == pytest.approx(2.353 / 3**0.5, abs=1e-3)
    assert coverage_factor(measured, risk=0.005) == pytest.approx(5.841 / 3**0.5, abs=1e-3)


@pytest.mark.parametrize(("bound", "u"), [(1.0, 0.0), (1.0, 0.3), (0.2, 1.0), (3.0, 1e-3)])
def test_bounds_only_contributions_are_no_normal_ones(bound, u):
    """Against the convolution of the two densities, summed by hand over the rectangle."""
    steps = 20_000
    for margin in (-0.9, -0.1, 0.0, 0.5, 0.97):
        measured = Measured(10.0, u, bound)
        if u == 0.0:
            expected = (margin + bound) / (2 * bound)
        else:
            normal = NormalDist()
            at = ((k + 0.5) / steps * 2 * bound - bound for k in range(steps))
            expected = sum(normal.cdf((margin - x) / u) for x in at) / steps
        assert chance_at_most(measured, 10.0 + margin) == pytest.approx(expected, abs=2e-4)


def test_beyond_hard_bounds_there_is_no_risk_at_all():
    """A rectangular error leaves none at sqrt 3 standard uncertainties; a normal one of that size would."""
    measured = Measured(10.0, bound=1.0)
    assert chance_at_most(measured, 11.0) == 1.0
    assert coverage_factor(measured, risk=1e-9) == pytest.approx(3**0.5, abs=1e-6)
    assert coverage_factor(measured) == pytest.approx(0.9 * 3**0.5, abs=1e-6)


def test_several_close_limits_share_the_risk_of_the_joint():
    """Each of four alone would pass at two standard uncertainties (2.3 %); together they would risk 9 %."""
    limits = [at_most(f"{name}.duration.long", 10.0, "s", SOURCE) for name in ("a", "b", "c", "d")]
    weighed = [limit.check(Measured(9.0, 0.5), 0.0, 9.0).weighed[0] for limit in limits]
    assert doubts_of(weighed[:2], 0.1) == ()
    doubts = doubts_of(weighed, 0.1)
    assert [doubt.code for doubt in doubts] == [f"{limit.code}.within_uncertainty" for limit in limits]
    expected = NormalDist().inv_cdf(1 - JOINT_RISK / 4)
    assert {round(doubt.coverage_factor or 0.0, 4) for doubt in doubts} == {round(expected, 4)}


def test_a_limit_weighed_twice_counts_once_with_its_greater_risk():
    limit = at_most("plate.temperature.high", 10.0, "degC", SOURCE)
    close, far = (limit.check(Measured(value, 0.5), 0.0, 1.0).weighed[0] for value in (9.0, 5.0))
    assert doubts_of([close, close, far], 0.1) == ()


def test_a_doubt_names_figures_rule_and_the_reading_that_would_have_settled_it():
    limit = at_least("cooling.pressure.low", 16.2, "bar", SOURCE)
    (doubt,) = doubts_of(limit.check(Measured(16.3, 0.129), 3.0, 13.0).weighed, 0.1)
    assert (doubt.missing, doubt.settles) == (Missing.GUARD_BAND, Settles.PRESSURE_TRANSMITTER)
    assert doubt.conformance_probability == pytest.approx(NormalDist().cdf(0.1 / 0.129))
    assert (doubt.rule, doubt.measured, doubt.limit, doubt.unit) == (RULE_NAME, 16.3, 16.2, "bar")
    assert doubt.needed_u is not None
    settled = limit.check(Measured(16.3, doubt.needed_u * 0.999), 3.0, 13.0)
    assert doubts_of(settled.weighed, 0.1) == ()


@pytest.mark.parametrize(
    ("code", "u_s", "interval_s", "settles"),
    [
        ("changeover.duration.long", 0.15, 0.1, Settles.CARRIAGE_POSITION),
        ("changeover.duration.long", 0.45, 1.0, Settles.FASTER_SAMPLING),
        ("heat_soak.duration.short", 0.15, 0.1, Settles.FASTER_SAMPLING),
    ],
)
def test_what_settles_a_duration_is_what_its_uncertainty_comes_from(code, u_s, interval_s, settles):
    (doubt,) = doubts_of(
        at_most(code, 6.0, "s", SOURCE).check(Measured(6.0, u_s), 0.0, 6.0).weighed, interval_s
    )
    assert doubt.settles is settles


def test_a_fault_carries_its_chance_its_guard_band_and_the_rule():
    (finding,) = at_most("x.duration.long", 6.0, "s", SOURCE).check(Measured(7.0, 0.25), 0.0, 7.0).findings
    assert finding.conformance_probability == pytest.approx(NormalDist().cdf(-4.0))
    assert finding.coverage_factor == pytest.approx(COVERAGE_K, abs=1e-3)
    assert (finding.rule, finding.standard_uncertainty) == (RULE_NAME, 0.25)


def test_the_conformance_probability_of_a_band_is_what_both_edges_leave():
    measured = Measured(19.6, 0.129)
    both = NormalDist(19.6, 0.129)
    assert chance_inside(measured, 16.2, 19.8) == pytest.approx(both.cdf(19.8) - both.cdf(16.2))


def test_uncertainties_add_as_root_sum_of_squares_and_unknown_ones_not_at_all():
    assert combined(3.0, 4.0, None) == 5.0
    assert combined(None) == 0.0


def test_values_are_rounded_once_before_they_are_compared():
    limit = at_most("x.duration.long", 6.0, "s", SOURCE)
    assert limit.check(Measured(6.0004), 0.0, 6.0).findings == ()
    (finding,) = limit.check(Measured(6.0006), 0.0, 6.0).findings
    assert (finding.code, finding.measured, finding.limit) == ("x.duration.long", 6.001, 6.0)


def test_a_limit_that_only_gives_a_remark_leaves_nothing_to_weigh():
    fault = at_least("x.duration.short", 6.0, "s", SOURCE)
    remark = replace(fault, severity=Severity.REMARK)
    close = Measured(6.01, 0.5)
    assert [one.limit for one in fault.check(close, None, None).weighed] == [fault]
    assert remark.check(close, None, None) == NOTHING
    (finding,) = remark.check(Measured(3.0, 0.5), None, None).findings
    assert (finding.severity, finding.conformance_probability) == (Severity.REMARK, None)


def test_a_band_has_the_edges_it_is_given():
    assert [limit.code for limit in edges_of(band(1.0, 2.0, 3.0), "p", "bar")] == ["p.low", "p.high"]
    assert [limit.code for limit in edges_of(band(high=3.0), "p", "bar")] == ["p.high"]
    assert edges_of(band(target=2.0), "p", "bar") == ()


def test_zero_is_a_limit_and_not_a_missing_one():
    (limit,) = edges_of(band(high=0.0), "p", "bar")
    assert limit.check(Measured(0.5), None, None).findings
