"""As few requests as the map allows, and never one that the standard forbids."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.acquire.grouping import MAX_BITS, MAX_REGISTERS, requests_of
from logger.domain.bus import ModbusRtuBus, ModbusTcpBus, ReplayBus, SerialLineBus, Table
from logger.domain.channel import WORDS_OF, DataType, Quantity
from logger.errors import InputError
from tests.unit.acquire.rig_builders import bit, column, register, text

TCP = ModbusTcpBus(name="field", host="127.0.0.1", max_gap=4)
P, T, X, IN = Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE, Quantity.CARRIAGE, Quantity.PLATE_IN


def spans(*bindings, bus=TCP):
    return [(r.unit_id, r.table, r.address, r.count, r.rate_hz) for r in requests_of(bus, bindings)]


def test_neighbours_share_a_request_up_to_the_gap():
    assert spans(register(P, 10), register(T, 15)) == [(1, Table.HOLDING, 10, 6, 10.0)]
    assert len(spans(register(P, 10), register(T, 16))) == 2


def test_unit_table_and_rate_part_requests():
    bindings = (
        register(P, 0, rate_hz=50.0),
        register(T, 1, rate_hz=2.0),
        register(X, 2, rate_hz=50.0, table=Table.INPUT),
        register(IN, 3, rate_hz=50.0, unit_id=9),
    )
    assert spans(*bindings) == [
        (1, Table.HOLDING, 1, 1, 2.0),
        (1, Table.HOLDING, 0, 1, 50.0),
        (1, Table.INPUT, 2, 1, 50.0),
        (9, Table.HOLDING, 3, 1, 50.0),
    ]


def test_a_wide_channel_is_never_split_and_overlaps_are_legal():
    wide = register(P, 0, DataType.FLOAT64)
    inside = register(T, 1)
    last = register(X, 124, DataType.UINT32)
    bus = ModbusTcpBus(name="field", host="127.0.0.1", max_gap=200)
    assert spans(wide, inside, bus=bus) == [(1, Table.HOLDING, 0, 4, 10.0)]
    assert [(s[2], s[3]) for s in spans(wide, last, bus=bus)] == [(0, 4), (124, 2)]
    assert [(s[2], s[3]) for s in spans(wide, register(X, 124), bus=bus)] == [(0, 125)]


def test_other_buses_are_left_alone():
    assert requests_of(TCP, [register(P, 0, bus="other")]) == ()


def test_bits_group_by_their_own_limit():
    bus = ModbusRtuBus(name="field", path="/dev/null", max_gap=MAX_BITS)
    assert spans(bit(P, 0), bit(IN, 1999), bus=bus) == [(1, Table.COIL, 0, 2000, 10.0)]
    assert len(spans(bit(P, 0), bit(IN, 2000), bus=bus)) == 2


@given(
    st.lists(st.tuples(st.integers(0, 400), st.sampled_from(list(DataType)[:8])), min_size=1, max_size=30),
    st.integers(0, 60),
)
def test_every_channel_is_covered_and_no_two_blocks_could_be_one(places, gap):
    bus = ModbusTcpBus(name="field", host="127.0.0.1", max_gap=gap)
    bindings = [register(P, address, data_type) for address, data_type in places]
    requests = requests_of(bus, bindings)
    covered = [binding for request in requests for binding in request.bindings]
    assert sorted(b.point.address for b in covered) == sorted(address for address, _ in places)
    for request in requests:
        assert 1 <= request.count <= MAX_REGISTERS
        for binding in request.bindings:
            width = WORDS_OF[binding.channel.scaling.data_type]
            assert request.address <= binding.point.address
            assert binding.point.address + width <= request.address + request.count
    for one, following in itertools.pairwise(requests):
        nearest = min(binding.point.address for binding in following.bindings)
        reach = max(b.point.address + WORDS_OF[b.channel.scaling.data_type] for b in following.bindings)
        too_far = nearest - (one.address + one.count) > gap
        assert too_far or reach - one.address > MAX_REGISTERS


def test_a_stream_is_one_request_without_a_rate_and_a_polled_line_one_per_rate():
    stream = SerialLineBus(name="field", path="/dev/null", pattern="(?P<p>.)(?P<x>.)")
    polled = SerialLineBus(name="field", path="/dev/null", pattern="(?P<p>.)(?P<x>.)", poll_request="?")
    fields = (text(P, "p", rate_hz=10.0), text(X, "x", rate_hz=2.0))
    assert [(r.rate_hz, len(r.bindings)) for r in requests_of(stream, fields)] == [(None, 2)]
    assert [(r.rate_hz, len(r.bindings)) for r in requests_of(polled, fields)] == [(10.0, 1), (2.0, 1)]
    assert [r.rate_hz for r in requests_of(ReplayBus(name="field", file="x"), [column(P, "p")])] == [None]


@pytest.mark.parametrize(
    ("binding", "message"),
    [
        (text(P, "p"), "channel pressure: bus field needs a ModbusPoint, not a LineField"),
        (register(P, 0, rate_hz=0.5), "channel pressure: rate 0.5 Hz is outside 1 to 50 Hz"),
        (register(P, 0, rate_hz=51.0), "channel pressure: rate 51 Hz is outside 1 to 50 Hz"),
        (register(P, 0, DataType.COUNT), "does not fit (use uint16 or another register type)"),
        (register(IN, 0, DataType.UINT16, table=Table.COIL), "data type uint16 does not fit (use count)"),
        (register(P, 65535, DataType.UINT32), "address 65535 is outside 0 to 65534"),
        (register(P, -1), "address -1 is outside"),
        (register(P, 0, unit_id=256), "unit id 256 is outside 0 to 255"),
    ],
)
def test_what_does_not_fit_is_one_clear_line(binding, message):
    with pytest.raises(InputError) as caught:
        requests_of(TCP, [binding])
    assert message in str(caught.value)


def test_a_text_channel_needs_a_step():
    with pytest.raises(InputError, match="gain is the step"):
        requests_of(ReplayBus(name="field", file="x"), [column(P, "p", gain=0.0)])
