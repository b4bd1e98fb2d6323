"""Marks of readings: NE 43 with its hysteresis, range, slew, stuck values, two sensors; nothing repaired."""

import math

import pytest

from logger.domain.channel import Channel, CurrentLoop, DataType, Quality, Quantity, Scaling
from logger.domain.rig import Rig
from logger.domain.sample import RawReading, RawSample
from logger.domain.scale import Scaler, sample_of, samples_of

G, LOW, HIGH, FAST = Quality.GOOD, Quality.LOOP_LOW, Quality.LOOP_HIGH, Quality.TOO_FAST
MICROAMPERES = Scaling(data_type=DataType.UINT16, gain=0.01, offset=-40.0)
"""4000 is 4 mA and 0 bar, 20000 is 20 mA and 160 bar."""
LOOP = CurrentLoop(at_4_mA=0.0, at_20_mA=160.0)


def pressure(**keys) -> Channel:
    keys = {"scaling": MICROAMPERES, "resolution": 0.01, **keys}
    return Channel(quantity=Quantity.PRESSURE, **keys)


def marks(channel: Channel, raws: list[int], interval_ms: int = 100) -> list[Quality]:
    scaler = Scaler(Rig(name="r", channels=(channel,)))
    qualities = []
    for number, raw in enumerate(raws):
        reading = RawReading(quantity=Quantity.PRESSURE, raw=raw)
        sample = scaler.read(RawSample(t_ms=number * interval_ms, half_width_ms=1, readings=(reading,)))
        qualities.append(scaler.qualities[Quantity.PRESSURE])
        value = channel.scaling.value_of(raw)
        assert sample.pressure_bar == (value if qualities[-1] is Quality.GOOD else None)
    return qualities


@pytest.mark.parametrize(
    ("raws", "expected"),
    [
        # Saturated below 4 and above 20 mA is information; 3.6 and 21 mA are failures; between the bands the
        # state before holds, both ways.
        ([4000, 3900, 3800, 20500], [G, G, G, G]),
        ([4000, 3700, 3600, 3700, 3800, 3700], [G, G, LOW, LOW, G, G]),
        ([20000, 20700, 21000, 20700, 20500, 20700], [G, G, HIGH, HIGH, G, G]),
        ([0, 3799, 12000], [LOW, LOW, G]),
        ([3601, 3600, 21000, 3700], [G, LOW, HIGH, HIGH]),
    ],
)
def test_the_bands_of_a_current_loop(raws, expected) -> None:
    assert marks(pressure(loop=LOOP), raws) == expected


def test_a_value_outside_the_range_or_no_number() -> None:
    channel = pressure(valid_min=-1.0, valid_max=165.0)
    assert marks(channel, [0, 12000, 30000]) == [Quality.OUT_OF_RANGE, G, Quality.OUT_OF_RANGE]
    floats = pressure(scaling=Scaling(data_type=DataType.FLOAT32))
    rig = Rig(name="r", channels=(floats,))
    nan = RawSample(
        t_ms=0, half_width_ms=0, readings=(RawReading(quantity=Quantity.PRESSURE, raw=0x7FC0_0000),)
    )
    scaler = Scaler(rig)
    assert scaler.read(nan).pressure_bar is None
    assert scaler.qualities[Quantity.PRESSURE] is Quality.NOT_A_NUMBER
    assert math.isnan(floats.scaling.value_of(0x7FC0_0000))


def test_one_wild_value_is_marked_and_what_follows_is_not() -> None:
    """100 bar/s: 1000 counts in 0.1 s. The wild one does not become the reference."""
    channel = pressure(max_change_per_s=100.0)
    assert marks(channel, [8000, 8900, 15000, 9000, 9500]) == [G, G, FAST, G, G]


def test_a_real_step_is_believed_again_in_time() -> None:
    """A jump of 5000 counts, 50 bar, is within reach 0.5 s after the last good reading."""
    channel = pressure(max_change_per_s=100.0)
    assert marks(channel, [8000] + [13000] * 6) == [G, FAST, FAST, FAST, FAST, G, G]


def test_a_value_that_rests_too_long_is_stuck_until_it_moves() -> None:
    channel = pressure(stuck_after_s=0.3)
    stuck = Quality.STUCK
    assert marks(channel, [8000, 8001, 8001, 8001, 8001, 8001, 8002]) == [G, G, G, G, stuck, stuck, G]


def two_sensors(differences: list[float | None], **keys) -> list[Quality]:
    """Second first in each poll; a difference of None leaves the second out."""
    second = Channel(quantity=Quantity.PRESSURE_2, scaling=MICROAMPERES)
    rig = Rig(name="r", channels=(pressure(agrees_within=2.0, **keys), second))
    scaler = Scaler(rig)
    found = []
    for number, difference in enumerate(differences):
        readings = [RawReading(quantity=Quantity.PRESSURE, raw=9000)]
        if difference is not None:
            readings.insert(0, RawReading(quantity=Quantity.PRESSURE_2, raw=round(9000 + 100 * difference)))
        scaler.read(RawSample(t_ms=500 * number, half_width_ms=1, readings=tuple(readings)))
        found.append(scaler.qualities[Quantity.PRESSURE])
    return found


def test_two_sensors_that_stay_apart_are_not_believed() -> None:
    apart = Quality.DISAGREES
    assert two_sensors([0.0, 5.0, 0.0, 5.0, 5.0, 5.0, 2.0]) == [G, G, G, G, G, apart, G]


def test_a_second_sensor_that_is_silent_is_nobodys_witness() -> None:
    """It last spoke at 1.0 s; that is old at 2.5 s, and the sixth reading is."""
    assert two_sensors([0.0, 5.0, 5.0, *[None] * 8]) == [G] * 3 + [Quality.DISAGREES] * 2 + [G] * 6


def test_replayed_and_live_are_marked_alike() -> None:
    channel = pressure(max_change_per_s=100.0, loop=LOOP)
    rig = Rig(name="r", channels=(channel,))
    raws = [
        RawSample(t_ms=100 * n, half_width_ms=1, readings=(RawReading(quantity=Quantity.PRESSURE, raw=raw),))
        for n, raw in enumerate([8000, 15000, 8000, 3600, 3700, 8000])
    ]
    scaler = Scaler(rig)
    live = [scaler.read(raw).pressure_bar for raw in raws]
    assert [sample.pressure_bar for sample in samples_of(raws, rig)] == live
    assert live == pytest.approx([40.0, None, 40.0, None, None, 40.0])
    assert sample_of(raws[1], rig).pressure_bar == pytest.approx(110.0), "a lone poll has no past"
