"""Whether a Modbus RTU line can carry the requests that a rig file asks for.

One request and its answer take

    T = 8 tc + t3.5 + (5 + data) tc + t3.5 + pause

with tc the time of one character, t3.5 the silence of the standard (MODBUS over Serial Line V1.02, 2.5.1.1:
3.5 characters of 11 bits, fixed at 1.75 ms above 19200 Bd) and data 2 bytes a register or 1 bit a bit. The
device's own thinking time comes on top, so what is refused here is impossible with any device.
"""

from collections import defaultdict
from collections.abc import Iterable
from itertools import pairwise

from logger.domain.bus import Binding, ModbusPoint, ModbusRtuBus, Parity, Table
from logger.domain.channel import WORDS_OF

_SILENCE_BITS = 3.5 * 11
_FIXED_SILENCE_S = 0.00175
_FIXED_ABOVE_BAUD = 19200
_REQUEST_CHARACTERS = 8
_ANSWER_CHARACTERS = 5


def overload_of(bus: ModbusRtuBus, bindings: Iterable[Binding]) -> str | None:
    """Return the arithmetic in one line when the bus cannot carry its requests, else None."""
    terms: list[str] = []
    busy = 0.0
    for rate_hz, count, bits in _requests(bus, bindings):
        time_s = request_time_s(bus, -(-count // 8) if bits else 2 * count)
        busy += rate_hz * time_s
        what = "bits" if bits else "registers"
        terms.append(f"{rate_hz:g}/s of {count} {what} x {1000 * time_s:.1f} ms")
    if busy <= 1.0:
        return None
    form = f"{bus.baudrate} Bd 8{bus.parity}{bus.stop_bits}"
    return f"{form} cannot carry this: {' + '.join(terms)} = {busy:.2f} s of bus time in each second"


def request_time_s(bus: ModbusRtuBus, data_bytes: int) -> float:
    """Return the least time of one request with its answer and both silences."""
    character_s = (1 + 8 + (bus.parity is not Parity.NONE) + bus.stop_bits) / bus.baudrate
    silence_s = _FIXED_SILENCE_S if bus.baudrate > _FIXED_ABOVE_BAUD else _SILENCE_BITS / bus.baudrate
    characters = _REQUEST_CHARACTERS + _ANSWER_CHARACTERS + data_bytes
    return characters * character_s + 2 * silence_s + bus.pause_s


def _requests(bus: ModbusRtuBus, bindings: Iterable[Binding]) -> Iterable[tuple[float, int, bool]]:
    """Yield (rate, count, whether bits) of each request; neighbours within `max_gap` share one."""
    groups: dict[tuple[int, Table, float], list[tuple[int, int]]] = defaultdict(list)
    for binding in bindings:
        point = binding.point
        if binding.bus == bus.name and isinstance(point, ModbusPoint):
            width = WORDS_OF[binding.channel.scaling.data_type] or 1
            group = groups[point.unit_id, point.table, binding.channel.rate_hz]
            group.append((point.address, point.address + width))
    for (_, table, rate_hz), spans in groups.items():
        spans.sort()
        first = 0
        for index, (before, after) in enumerate(pairwise([*spans, (10**6, 10**6)]), 1):
            if after[0] - before[1] > bus.max_gap:
                block = spans[first:index]
                yield rate_hz, max(end for _, end in block) - block[0][0], table.holds_bits
                first = index
