"""One value against one limit: the guard band is the only place where nothing can be told."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from logger.domain.judgement import Severity
from logger.judge.case import NOTHING, at_least, at_most, edges_of
from logger.judge.decision import Answer, Measured, against_max, against_min, combined
from logger.plan.decidable import COVERAGE_K
from tests.unit.judge.plans import SOURCE, band

VALUES = st.floats(-1000.0, 1000.0)
UNCERTAINTIES = st.floats(0.0, 100.0)
RANK = {Answer.INSIDE: 0, Answer.CANNOT_TELL: 1, Answer.BEYOND: 2}


@given(limit=VALUES)
def test_without_uncertainty_the_limit_itself_is_inside_and_the_next_number_is_not(limit):
    above, below = limit + abs(limit) * 1e-9 + 1e-9, limit - abs(limit) * 1e-9 - 1e-9
    assert against_max(Measured(limit), limit) is Answer.INSIDE
    assert against_min(Measured(limit), limit) is Answer.INSIDE
    assert against_max(Measured(above), limit) is Answer.BEYOND
    assert against_min(Measured(below), limit) is Answer.BEYOND


@given(value=VALUES, limit=VALUES)
def test_without_uncertainty_everything_can_be_told(value, limit):
    assert against_max(Measured(value), limit) is not Answer.CANNOT_TELL
    assert against_min(Measured(value), limit) is not Answer.CANNOT_TELL


@given(low=VALUES, high=VALUES, limit=VALUES, u=UNCERTAINTIES)
def test_a_greater_value_is_never_better_against_a_maximum(low, high, limit, u):
    assume(low <= high)
    assert RANK[against_max(Measured(low, u), limit)] <= RANK[against_max(Measured(high, u), limit)]
    assert RANK[against_min(Measured(low, u), limit)] >= RANK[against_min(Measured(high, u), limit)]


@given(value=VALUES, limit=VALUES, u=UNCERTAINTIES, wider=UNCERTAINTIES)
def test_a_wider_uncertainty_never_makes_a_doubt_certain(value, limit, u, wider):
    assume(wider >= u)
    for against in (against_max, against_min):
        narrow, wide = against(Measured(value, u), limit), against(Measured(value, wider), limit)
        assert wide is narrow or wide is Answer.CANNOT_TELL


@given(value=VALUES, limit=VALUES, u=UNCERTAINTIES)
def test_a_maximum_is_a_minimum_seen_in_a_mirror(value, limit, u):
    assert against_max(Measured(value, u), limit) is against_min(Measured(-value, u), -limit)


@pytest.mark.parametrize(
    ("margin_in_u", "answer"),
    [(2.0, Answer.INSIDE), (1.64, Answer.CANNOT_TELL), (0.0, Answer.CANNOT_TELL), (-1.64, Answer.CANNOT_TELL),
     (-2.0, Answer.BEYOND)],
)  # fmt: skip
def test_the_guard_band_is_one_sided_ninety_five_per_cent_on_either_side(margin_in_u, answer):
    """1.645 standard uncertainties: the one-sided 95 % quantile of the normal distribution."""
    assert pytest.approx(1.6449, abs=1e-3) == COVERAGE_K
    assert against_max(Measured(10.0 - margin_in_u * 0.5, 0.5), 10.0) is answer


def test_uncertainties_add_as_root_sum_of_squares_and_unknown_ones_not_at_all():
    assert combined(3.0, 4.0, None) == 5.0
    assert combined(None) == 0.0


def test_values_are_rounded_once_before_they_are_compared():
    limit = at_most("x.duration.long", 6.0, "s", SOURCE)
    assert limit.check(Measured(6.0004), 0.0, 6.0) == NOTHING
    (finding,) = limit.check(Measured(6.0006), 0.0, 6.0).findings
    assert (finding.code, finding.measured, finding.limit) == ("x.duration.long", 6.001, 6.0)


def test_a_limit_that_only_gives_a_remark_leaves_nothing_undecided():
    fault = at_least("x.duration.short", 6.0, "s", SOURCE)
    remark = at_least("x.duration.short", 6.0, "s", SOURCE, Severity.REMARK)
    close = Measured(6.01, 0.5)
    assert fault.check(close, None, None).undecided == ("x.duration.short.within_uncertainty",)
    assert remark.check(close, None, None) == NOTHING
    assert remark.check(Measured(3.0, 0.5), None, None).findings[0].severity is Severity.REMARK


def test_a_band_has_the_edges_it_is_given():
    assert [limit.code for limit in edges_of(band(1.0, 2.0, 3.0), "p", "bar")] == ["p.low", "p.high"]
    assert [limit.code for limit in edges_of(band(high=3.0), "p", "bar")] == ["p.high"]
    assert edges_of(band(target=2.0), "p", "bar") == ()


def test_zero_is_a_limit_and_not_a_missing_one():
    (limit,) = edges_of(band(high=0.0), "p", "bar")
    assert limit.check(Measured(0.5), None, None).findings
