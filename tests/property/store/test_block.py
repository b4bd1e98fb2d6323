"""Any samples whatever survive the way into canonical bytes, through compression, and back."""

import random
import sys
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.domain.channel import Quantity
from logger.domain.sample import RawReading, RawSample
from logger.errors import StoreError
from logger.store import block

readings = st.builds(
    RawReading,
    quantity=st.sampled_from(Quantity),
    raw=st.one_of(st.integers(-3, 3), st.integers(0, 2**64 - 1), st.integers()),
)
samples = st.builds(
    RawSample,
    t_ms=st.one_of(st.integers(0, 10_000), st.integers()),
    half_width_ms=st.one_of(st.integers(0, 3), st.integers()),
    readings=st.lists(readings, max_size=5).map(tuple),
)


@given(st.lists(samples, max_size=40))
def test_samples_come_back_as_they_were(recorded):
    canonical = block.encode(recorded)
    assert block.decode(block.decompress(block.compress(canonical))) == recorded
    assert block.encode(block.decode(canonical)) == canonical


@given(st.lists(samples, min_size=1, max_size=10), st.data())
def test_a_block_cut_short_or_continued_is_refused(recorded, data):
    canonical = block.encode(recorded)
    cut = data.draw(st.integers(0, len(canonical) - 1))
    with pytest.raises(StoreError, match="damaged"):
        block.decode(canonical[:cut])
    with pytest.raises(StoreError, match="left over"):
        block.decode(canonical + b"\x00")


@given(st.binary(max_size=60))
def test_garbage_is_decoded_or_refused_never_another_error(garbage):
    for read in (block.decode, block.decompress):
        with suppress(StoreError):
            read(garbage)


def test_the_layout_of_version_1_is_fixed():
    recorded = [
        RawSample(t_ms=1000, half_width_ms=2, readings=(RawReading(quantity=Quantity.PRESSURE, raw=300),)),
        RawSample(
            t_ms=1100,
            half_width_ms=1,
            readings=(
                RawReading(quantity=Quantity.PRESSURE, raw=299),
                RawReading(quantity=Quantity.PLATE_IN, raw=1),
            ),
        ),
        RawSample(t_ms=1205, half_width_ms=2, readings=()),
    ]
    assert block.CODEC == 1
    assert block.encode(recorded) == bytes.fromhex(
        "03"  # samples
        "02 08" + b"pressure".hex() + "08" + b"plate_in".hex() +
        "03 01 00 02 00 01 00"  # shapes: pressure; pressure and plate_in; nothing
        "d00f c801"  # first time 1000, period 100
        "00 01 02"  # shape of each sample
        "00 0a"  # steps 100 and 105, less the period
        "04 02 04"  # half widths
        "d804 01"  # pressure 300, then one less
        "02"  # plate_in 1
    )  # fmt: skip
    assert block.encode([]) == b"\x00"


FOUR = (Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE, Quantity.CARRIAGE, Quantity.PLATE_IN)


@pytest.mark.parametrize(("noise_counts", "budget_kib"), [(1, 25), (3, 35)])
def test_a_quarter_of_an_hour_of_four_channels_stays_small(noise_counts, budget_kib):
    """9,000 polls at 10 Hz, every channel noisy, times off the grid by up to a millisecond."""
    chance = random.Random(7)
    levels = (2_400, 2_200, 500, 0)
    recorded = [
        RawSample(
            t_ms=100 * index + chance.randint(-1, 1),
            half_width_ms=chance.randint(1, 2),
            readings=tuple(
                RawReading(
                    quantity=quantity, raw=level + index // 300 + chance.randint(-noise_counts, noise_counts)
                )
                for quantity, level in zip(FOUR, levels, strict=True)
            ),
        )
        for index in range(9_000)
    ]
    kib = len(block.compress(block.encode(recorded))) / 1024
    sys.stdout.write(f"{kib:.1f} KiB with noise of {noise_counts} counts\n")
    assert kib < budget_kib
