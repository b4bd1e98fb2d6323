"""Lines through reference points against figures worked by hand."""

import math

import pytest

from logger.domain.calibration import ReferencePoint, fit_of, point_of
from logger.domain.channel import Scaling

BEFORE = Scaling(gain=0.01, offset=-40.0)


def point(reference: float, number: float, spread: float = 0.0, count: int = 25) -> ReferencePoint:
    return ReferencePoint(reference=reference, number=number, spread=spread, count=count)


def test_two_points_are_a_line_and_its_errors_before() -> None:
    """4100 for 0 bar and 20100 for 161.6 bar: gain 0.0101, offset -41.41; before 1.0 and -0.6 bar off."""
    fit = fit_of([point(0.0, 4100), point(161.6, 20100)], BEFORE, 0.1)
    assert (fit.gain, fit.offset) == pytest.approx((0.0101, -41.41))
    assert fit.errors_before == pytest.approx((1.0, -0.6))
    assert fit.errors_after == pytest.approx((0.0, 0.0), abs=1e-9)
    assert fit.standard_uncertainty == pytest.approx(0.1)
    assert not fit.has_residuals


def test_three_points_leave_residuals_that_count() -> None:
    """0, 1 and 2 bar at 0, 1.3 and 2: what is left over three points has one degree of freedom."""
    fit = fit_of([point(0.0, 0), point(1.0, 1.3), point(2.0, 2)], Scaling(), 0.0)
    assert sum(fit.errors_after) == pytest.approx(0.0, abs=1e-12)
    residual = math.sqrt(sum(error**2 for error in fit.errors_after))
    assert fit.standard_uncertainty == pytest.approx(residual)
    assert fit.has_residuals


def test_the_spread_of_the_means_counts() -> None:
    """Ten counts of spread over 25 readings are 2 counts of the mean, 0.02 bar; with 0.015 bar: 0.025 bar."""
    fit = fit_of([point(0.0, 4000, spread=10.0), point(160.0, 20000)], BEFORE, 0.015)
    assert fit.standard_uncertainty == pytest.approx(0.025)


def test_a_point_is_averaged_with_its_spread() -> None:
    averaged = point_of(5.0, [10.0, 12.0, 14.0])
    assert (averaged.number, averaged.spread, averaged.count) == (12.0, 2.0, 3)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([point(0.0, 1.0)], "two points are needed"),
        ([point(0.0, 1.0), point(5.0, 1.0)], "the same raw number"),
        ([point(5.0, 1.0), point(5.0, 2.0)], "the reference is the same"),
        (
            [point(0.0, 6401.5, spread=2.5), point(40.0, 6399.0, spread=2.0)],
            "lie within 2.5 while one reading scatters by 2.5: did the channel follow",
        ),
        ([point(0.0, 100.0, spread=2.5), point(40.0, 114.9, spread=2.0)], "lie within 14.9 while"),
    ],
)
def test_what_is_no_line_is_refused(points, message) -> None:
    with pytest.raises(ValueError, match=message):
        fit_of(points, BEFORE, 0.1)


def test_points_six_times_the_scatter_apart_are_a_line() -> None:
    assert fit_of([point(0.0, 100.0, spread=2.5), point(40.0, 115.0, spread=2.0)], BEFORE, 0.1).gain > 0


def test_one_reading_is_no_point() -> None:
    with pytest.raises(ValueError, match="too few"):
        point_of(1.0, [3.0])
