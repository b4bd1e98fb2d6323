"""Whether a Modbus RTU line can carry the requests that a rig file asks for.

One request and its answer take

    T = 8 tc + t3.5 + (5 + data) tc + t3.5 + pause

with tc the time of one character, t3.5 the silence of the standard (MODBUS over Serial Line V1.02, 2.5.1.1:
3.5 characters of 11 bits, fixed at 1.75 ms above 19200 Bd) and data 2 bytes a register or 1 bit a bit. The
device's own thinking time comes on top, so what is refused here is impossible with any device.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from logger.domain.bus import Binding, Installation, ModbusPoint, ModbusRtuBus, ModbusTcpBus, Parity, Table
from logger.domain.bus_load import BusLoad, RequestLoad
from logger.domain.channel import WORDS_OF

_SILENCE_BITS = 3.5 * 11
_FIXED_SILENCE_S = 0.00175
_FIXED_ABOVE_BAUD = 19200
_REQUEST_CHARACTERS = 8
_ANSWER_CHARACTERS = 5
_MOST_REGISTERS, _MOST_BITS = 125, 2000
_USUAL_BAUD = (2400, 4800, 9600, 19200, 38400, 57600, 115200)


def overload_of(bus: ModbusRtuBus, bindings: Sequence[Binding]) -> str | None:
    """Return the arithmetic in one line when the bus cannot carry its requests, else None."""
    load = load_of(bus, bindings)
    if load.share <= 1.0:
        return None
    terms = [f"{_of(one)} x {1000 * (one.time_s or 0):.1f} ms" for one in load.requests]
    faster = (replace(bus, baudrate=baud) for baud in _USUAL_BAUD if baud > bus.baudrate)
    enough = next((one.baudrate for one in faster if load_of(one, bindings).share <= 1.0), None)
    return (
        f"{load.form} cannot carry this: {' + '.join(terms)} = {load.share:.2f} s of bus time in each second"
        f"; rates {math.ceil(100 * load.share) / 100:g} times lower would fit"
        + ("" if enough is None else f", or {enough} Bd where the devices can be set to it")
    )


def _of(request: RequestLoad) -> str:
    what = "bit" if request.table.holds_bits else "register"
    return f"{request.rate_hz:g}/s of {request.count} {what}{'' if request.count == 1 else 's'}"


def loads_of(installation: Installation) -> tuple[BusLoad, ...]:
    """Return the load of every Modbus bus."""
    return tuple(
        load_of(bus, installation.bindings)
        for bus in installation.buses
        if isinstance(bus, ModbusRtuBus | ModbusTcpBus)
    )


def load_of(bus: ModbusRtuBus | ModbusTcpBus, bindings: Iterable[Binding]) -> BusLoad:
    """Return the requests of one bus, with their least time where it is a serial line."""
    if isinstance(bus, ModbusRtuBus):
        form = f"{bus.baudrate} Bd 8{bus.parity}{bus.stop_bits}"
    else:
        form = f"{bus.host}:{bus.port}"
    return BusLoad(bus=bus.name, form=form, requests=tuple(_requests(bus, bindings)))


def request_time_s(bus: ModbusRtuBus, data_bytes: int, unit_id: int = 0) -> float:
    """Return the least time of one request with its answer and both silences."""
    character_s = (1 + 8 + (bus.parity is not Parity.NONE) + bus.stop_bits) / bus.baudrate
    silence_s = _FIXED_SILENCE_S if bus.baudrate > _FIXED_ABOVE_BAUD else _SILENCE_BITS / bus.baudrate
    characters = _REQUEST_CHARACTERS + _ANSWER_CHARACTERS + data_bytes
    return characters * character_s + 2 * silence_s + bus.timing_of(unit_id).pause_s


def _requests(bus: ModbusRtuBus | ModbusTcpBus, bindings: Iterable[Binding]) -> Iterator[RequestLoad]:
    """Yield each request; neighbours within `max_gap` share one, as far as one may reach."""
    groups: dict[tuple[int, Table, float], list[tuple[int, int]]] = defaultdict(list)
    for binding in bindings:
        point = binding.point
        if binding.bus == bus.name and isinstance(point, ModbusPoint):
            width = WORDS_OF[binding.channel.scaling.data_type] or 1
            group = groups[point.unit_id, point.table, binding.channel.rate_hz]
            group.append((point.address, point.address + width))
    for (unit_id, table, rate_hz), spans in groups.items():
        most = _MOST_BITS if table.holds_bits else _MOST_REGISTERS
        for first, end in _blocks(sorted(spans), bus.max_gap, most):
            count = end - first
            data_bytes = -(-count // 8) if table.holds_bits else 2 * count
            yield RequestLoad(
                unit_id=unit_id,
                table=table,
                address=first,
                count=count,
                rate_hz=rate_hz,
                time_s=request_time_s(bus, data_bytes, unit_id) if isinstance(bus, ModbusRtuBus) else None,
            )


def _blocks(spans: list[tuple[int, int]], max_gap: int, most: int) -> list[tuple[int, int]]:
    blocks: list[tuple[int, int]] = []
    for first, end in spans:
        if blocks and first - blocks[-1][1] <= max_gap and end - blocks[-1][0] <= most:
            blocks[-1] = (blocks[-1][0], max(end, blocks[-1][1]))
        else:
            blocks.append((first, end))
    return blocks
