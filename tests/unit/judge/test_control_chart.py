"""Control charts against the worked figures of their definition, and on drifts drawn by hand."""

import random

import pytest

from logger.judge.control_chart import BASELINE_COUNT, FEWEST, Signal, chart_of


def test_limits_of_single_values():
    """By hand: values 10, 12, 10, 12, ... have a mean moving range of 2, so sigma is 2 / 1.128."""
    chart = chart_of([10.0, 12.0] * 10)
    assert chart.centre == 11.0
    assert chart.sigma == pytest.approx(2 / 1.128)
    assert (chart.low, chart.high) == pytest.approx((11 - 6 / 1.128, 11 + 6 / 1.128))


def test_the_weighted_mean_by_hand():
    chart = chart_of([0.0, 1.0] * 4)
    assert chart.centre == 0.5
    assert chart.points[0].ewma == pytest.approx(0.4)
    assert chart.points[1].ewma == pytest.approx(0.52)
    assert chart.points[0].ewma_high - 0.5 == pytest.approx(3 * 0.2 / 1.128)


def test_few_values_have_no_limits():
    assert chart_of([1.0] * (FEWEST - 1)) is None
    assert chart_of([1.0] * FEWEST) is not None


def steady(count, seed=1):
    draw = random.Random(seed)
    return [draw.gauss(220.0, 1.0) for _ in range(count)]


def test_a_steady_rig_gives_hardly_a_signal():
    """Three sigma: about 0.3 % of single values by chance, and the mean seldom more."""
    signals = [
        point.signal for seed in range(40) for point in chart_of(steady(60, seed)).points[BASELINE_COUNT:]
    ]
    assert sum(signal is not Signal.NONE for signal in signals) < 0.08 * len(signals)


def test_a_heater_that_drifts_is_seen_before_a_single_value_is_out():
    drifting = [value - 0.06 * max(0, k - 20) for k, value in enumerate(steady(70))]
    chart = chart_of(drifting)
    first = next(k for k, point in enumerate(chart.points) if point.signal and k >= 20)
    assert chart.points[first].signal is Signal.DRIFT
    assert drifting[first] > chart.low


def test_one_joint_that_stands_apart():
    values = steady(40)
    values[30] = 205.0
    assert chart_of(values).points[30].signal is Signal.JUMP
