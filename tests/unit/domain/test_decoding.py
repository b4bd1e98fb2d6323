"""Raw registers and what they can mean, against values worked by hand."""

import pytest

from logger.domain.channel import DataType, WordOrder
from logger.domain.decoding import decodings_of, matches_of

# 18.4 as float32 is 41933333h: sign 0, exponent 127 + 4 = 83h, fraction 0.15 x 2^23 = 133333h.
WORDS = [0x0007, 0x3333, 0x4193, 0x00B8]


def test_every_type_and_order_at_every_address() -> None:
    """One word: 2 types x 2 byte orders x 4 places; two: 3 x 4 x 3; four: 3 x 4 x 1."""
    found = list(decodings_of(WORDS, 10))
    assert len(found) == 2 * 2 * 4 + 3 * 4 * 3 + 3 * 4
    numbers = {(d.address, d.data_type, d.word_order): d.number for d in found}
    assert len(numbers) == len(found)
    assert numbers[11, DataType.FLOAT32, WordOrder.CDAB] == pytest.approx(18.4, abs=1e-6)
    assert numbers[10, DataType.UINT16, WordOrder.BADC] == 0x0700
    assert numbers[10, DataType.INT32, WordOrder.ABCD] == 0x0007_3333


def test_absurd_floats_are_not_plausible() -> None:
    found = {(d.address, d.data_type, d.word_order): d for d in decodings_of([0x7FC0, 0x0000], 0)}
    assert not found[0, DataType.FLOAT32, WordOrder.ABCD].is_plausible
    assert found[0, DataType.UINT32, WordOrder.ABCD].is_plausible


def test_the_word_order_that_turns_into_the_expected_value_comes_first() -> None:
    """184 tenths are 18.4 too, but the number as it stands is the simpler reading."""
    matches = matches_of(WORDS, 10, 18.4)
    one = matches[0].decoding
    assert (one.address, one.data_type, one.word_order) == (11, DataType.FLOAT32, WordOrder.CDAB)
    factors = [match.factor for match in matches]
    assert factors == sorted(factors, reverse=True)
    scaled = {(m.decoding.address, m.decoding.data_type) for m in matches if m.factor == 0.1}
    assert scaled == {(13, DataType.UINT16), (13, DataType.INT16)}


def test_nothing_matches_zeros() -> None:
    assert matches_of([0, 0, 0, 0], 0, 18.4) == []
    assert matches_of([0, 0], 0, 0.0) == []
