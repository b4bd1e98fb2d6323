"""Curves as dots: nothing invented, nothing lost, gaps left open."""

import numpy as np
import pytest

from tui.dots import BLANK, Frame, Piece, codes_of, curve_dots, limit_dots
from tui.series import Series

FRAME = Frame(from_s=0.0, to_s=60.0, low=0.0, high=10.0, columns=30, rows=5)


def series(pairs):
    made = Series()
    for t_s, value in pairs:
        made.append(t_s, value)
    return made


def drawn(pairs, frame=FRAME, gap_s=None):
    made = series(pairs)
    t_s, value = made.between(frame.from_s, frame.to_s)
    return curve_dots(t_s, value, frame, made.gap_s() if gap_s is None else gap_s)


def test_a_level_curve_is_one_row_of_dots_in_every_column():
    dots = drawn([(k * 0.1, 5.0) for k in range(601)])
    assert dots.sum(axis=0).tolist() == [1] * FRAME.width
    assert len(set(dots.argmax(axis=0))) == 1


def test_neighbouring_columns_touch_on_a_slope():
    dots = drawn([(k * 0.5, k / 12) for k in range(121)], gap_s=1.0)
    top, bottom = dots.argmax(axis=0), FRAME.height - 1 - dots[::-1].argmax(axis=0)
    assert dots.any(axis=0).all()
    assert all(bottom[k + 1] >= top[k] - 1 and top[k + 1] <= bottom[k] for k in range(FRAME.width - 1))


def test_a_single_spike_is_not_thinned_away():
    pairs = [(k * 0.01, 2.0) for k in range(6000)]
    pairs[3333] = (33.33, 9.9)
    assert drawn(pairs)[0].sum() == 1


def test_a_gap_is_left_open():
    pairs = [(k * 0.1, 5.0) for k in range(601) if not 200 <= k <= 400]
    seen = drawn(pairs).any(axis=0)
    assert seen[: 2 * 9].all()
    assert not seen[2 * 10 + 2 : 2 * 20 - 2].any()
    assert seen[2 * 21 :].all()


def test_what_leaves_the_frame_is_not_drawn_at_its_edge():
    assert not drawn([(k * 0.1, 12.0) for k in range(601)]).any()
    assert not drawn([(k * 0.1, -3.0) for k in range(601)]).any()


@pytest.mark.parametrize("pairs", [[], [(30.0, 5.0)], [(-5.0, 5.0)], [(90.0, 1.0)]])
def test_few_or_no_readings_are_no_error(pairs):
    assert drawn(pairs).sum() <= 1


def test_limits_lie_where_the_plan_has_them():
    dots = limit_dots(
        (Piece(from_s=0, to_s=30, low=None, high=10.0), Piece(from_s=30, to_s=60, low=0.0, high=None)), FRAME
    )
    assert dots[0, : FRAME.width // 2].any()
    assert not dots[0, FRAME.width // 2 :].any()
    assert dots[-1, FRAME.width // 2 :].any()


def test_dots_become_the_characters_of_the_braille_block():
    """By the Unicode chart: the left column is dots 1, 2, 3, 7, the right one 4, 5, 6, 8."""
    dots = np.zeros((4, 2), dtype=np.bool_)
    for (row, column), code in {(0, 0): 0x01, (3, 0): 0x40, (0, 1): 0x08, (2, 1): 0x20, (3, 1): 0x80}.items():
        dots[:] = False
        dots[row, column] = True
        assert codes_of(dots)[0, 0] == BLANK + code


def test_a_series_grows_and_leaves_out_what_is_not_later():
    made = series([(k * 0.1, float(k)) for k in range(10_000)])
    made.append(5.0, 99.0)
    assert len(made) == 10_000
    assert made.value[-1] == 9999.0
    assert made.gap_s() == pytest.approx(0.5)
