"""Heat-through: counted from the switch-on that was seen, unknown where it was not, never across a gap."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from logger.domain.band import NO_BAND, Band
from logger.domain.heat_through import (
    COLD_BELOW_K,
    HEAT_THROUGH,
    LONGEST_GAP_S,
    NEW_S,
    Heat,
    asked_time,
    heat_status,
    heat_through,
    plate_heat_of,
    shifted,
)
from logger.domain.source import Mark, Source

BAND = Band(min=210.0, target=220.0, max=230.0)
NEEDED_S = HEAT_THROUGH.min


def watched(*readings):
    return heat_through(plate_heat_of(BAND), readings)


def status(readings, now_s=None):
    now_s = readings[-1][0] if now_s is None else now_s
    return heat_status(watched(*readings), HEAT_THROUGH, now_s)


def warm_up(from_degC, until_s, *, per_s=0.1, to_degC=220.0, from_s=0.0, every_s=1.0):
    steps = int((until_s - from_s) / every_s) + 1
    return [(from_s + k * every_s, min(from_degC + per_s * k * every_s, to_degC)) for k in range(steps)]


def test_the_time_counts_from_the_first_reading_in_the_band_after_the_cold():
    seen = status(warm_up(180.0, 500.0))
    assert seen.heat is Heat.COUNTING
    assert seen.gone_s == 200.0, "180 to 210 at 0.1 K/s takes 300 s"
    assert seen.source.mark is Mark.MEMORY
    assert status(warm_up(180.0, 900.0)).heat is Heat.THROUGH
    assert status(warm_up(180.0, 895.0)).heat is Heat.COUNTING
    assert status(warm_up(180.0, 250.0)) == replace(seen, heat=Heat.WARMING, gone_s=0.0)


def test_a_plate_found_hot_is_not_known_until_it_was_seen_hot_for_as_long():
    hot = [(float(t), 220.0) for t in range(0, 300)]
    assert status(hot).heat is Heat.NOT_OBSERVED
    longer = [(float(t), 220.0) for t in range(0, 602)]
    assert status(longer).heat is Heat.THROUGH
    tepid = [(float(t), 200.0) for t in range(0, 60)]
    assert status(tepid).heat is Heat.NOT_OBSERVED
    assert status(tepid).gone_s is None


def test_a_thermostat_that_swings_and_a_contact_that_dips_begin_nothing_anew():
    swings = [(float(t), 209.0 if t % 60 < 20 else 215.0) for t in range(0, 700)]
    assert status(swings).heat is Heat.THROUGH
    dip = [*swings, *((700.0 + k, 210.0 - COLD_BELOW_K) for k in range(30)), (730.0, 215.0)]
    assert status(dip).heat is Heat.THROUGH


def test_every_switch_on_counts_anew():
    off = [(float(t), max(220.0 - 0.1 * t, 150.0)) for t in range(1000)]
    again = warm_up(150.0, 1900.0, from_s=1000.0)
    seen = status([*warm_up(180.0, 1000.0)[:-1], *[(1000.0 + t, v) for t, v in off],
                   *[(t + 1000.0, v) for t, v in again]])  # fmt: skip
    assert seen.heat is Heat.COUNTING
    assert seen.gone_s == 300.0


def test_one_stray_reading_begins_and_ends_nothing():
    plain = [(5.0 * k, 220.0) for k in range(121)]
    spiked = [(t, 0.0 if t == 300.0 else v) for t, v in plain]
    assert status(spiked) == status(plain)
    cold = [(5.0 * k, 100.0) for k in range(20)]
    spiked = [(t, 225.0 if t == 50.0 else v) for t, v in cold]
    assert status(spiked).heat is Heat.WARMING


def test_over_a_gap_nothing_is_known_and_in_one_it_is_said():
    before = warm_up(180.0, 1000.0)
    assert status(before, now_s=1000.0 + NEW_S + 1).heat is Heat.NO_READING
    after = [(1000.0 + LONGEST_GAP_S + 1 + t, 220.0) for t in range(120)]
    seen = status([*before, *after])
    assert seen.heat is Heat.NOT_OBSERVED
    assert seen.gone_s == 119.0
    short = [(1000.0 + LONGEST_GAP_S + t, 220.0) for t in range(10)]
    assert status([*before, *short]).heat is Heat.THROUGH


def test_a_procedure_with_a_time_of_its_own_wins():
    own = Band(min=300.0, source=Source(mark=Mark.SEEN, text="house rule"))
    assert asked_time(own) is own
    assert asked_time(NO_BAND) is HEAT_THROUGH
    seen = heat_status(watched(*warm_up(180.0, 620.0)), own, 620.0)
    assert (seen.heat, seen.needed_s, seen.source.text) == (Heat.THROUGH, 300.0, "house rule")


def test_nothing_is_said_where_nothing_is_asked():
    assert plate_heat_of(NO_BAND) is None
    assert heat_status(None, HEAT_THROUGH, 0.0) is None
    assert heat_status(watched((0.0, 220.0)), NO_BAND, 0.0) is None
    assert plate_heat_of(Band(target=205.0)).low_degC == 205.0


CURVE = st.lists(st.tuples(st.floats(0.1, 90.0), st.floats(-50.0, 300.0)), min_size=1, max_size=60).map(
    lambda steps: [(sum(s for s, _ in steps[: k + 1]), v) for k, (_, v) in enumerate(steps)]
)


@given(curve=CURVE, cut=st.integers(0, 60))
def test_taken_in_two_parts_it_is_the_same(curve, cut):
    whole = watched(*curve)
    assert heat_through(watched(*curve[:cut]), curve[cut:]) == whole


@given(curve=CURVE)
def test_through_means_no_two_cold_readings_and_no_gap_for_that_long(curve):
    end_s = curve[-1][0]
    seen = status(curve)
    if seen.heat is not Heat.THROUGH:
        return
    since = [(t, v) for t, v in curve if t >= end_s - NEEDED_S]
    assert all(b[0] - a[0] <= LONGEST_GAP_S + 10 for a, b in pairwise(since))
    assert seen.gone_s >= NEEDED_S


@given(curve=CURVE, by_s=st.integers(-100_000, 100_000))
def test_on_another_clock_it_is_the_same_time(curve, by_s):
    heat, now_s = watched(*curve), curve[-1][0]
    here = heat_status(heat, HEAT_THROUGH, now_s)
    there = heat_status(shifted(heat, by_s), HEAT_THROUGH, now_s + by_s)
    assert there.gone_s is None if here.gone_s is None else abs(there.gone_s - here.gone_s) < 1e-6
