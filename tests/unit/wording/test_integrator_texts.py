"""Figures of `check --live` and `calibrate`: what was measured, without the last digits of the arithmetic."""

from logger.domain.calibration import fit_of, point_of
from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.live_check import ChannelCheck
from logger.domain.measurement import measure_of
from logger.wording.calibration_text import fit_lines
from logger.wording.check_text import counted, signal_lines

CHANNEL = Channel(quantity=Quantity.PRESSURE, scaling=Scaling(), rate_hz=10.0)


def test_a_line_through_two_points_leaves_nothing_over() -> None:
    points = [point_of(0.0, [6399.0, 6400.0, 6400.0]), point_of(40.0, [10495.0, 10496.0, 10496.0])]
    fit = fit_of(points, Scaling(gain=250 / 25600, offset=-62.5), 0.1)
    (_, first, second, _, held, _) = fit_lines(points, fit, "bar")
    assert held == "held from 0 to 40 bar; outside that nothing was compared"
    assert first.split()[-1] == "+0"
    assert second.split()[-1] == "+0"


def test_a_signal_that_does_not_move_has_no_ripple() -> None:
    level = 6.894757293168362
    measure = measure_of([n / 10 for n in range(50)], [level + (n % 2) * 1e-15 for n in range(50)])
    _, figures = signal_lines([ChannelCheck(channel=CHANNEL, measure=measure, marks=())])
    assert figures.startswith("  noise 0 bar, ripple 0 bar, ")


def test_one_is_not_many() -> None:
    assert [counted(n, what) for n, what in ((1, "bus"), (2, "bus"), (1, "bit"), (0, "register"))] == [
        "1 bus",
        "2 buses",
        "1 bit",
        "0 registers",
    ]
