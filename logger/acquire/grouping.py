"""From bindings to as few requests as the register map allows. Pure."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.domain.bus import (
    Binding,
    Bus,
    LineField,
    ModbusPoint,
    ModbusRtuBus,
    ModbusTcpBus,
    OwnDriverBus,
    Point,
    ReplayBus,
    ReplayField,
    SerialLineBus,
    Table,
)
from logger.domain.channel import WORDS_OF, DataType
from logger.errors import InputError

MIN_RATE_HZ, MAX_RATE_HZ = 1.0, 50.0
MAX_REGISTERS = 125  # MODBUS Application Protocol V1.1b3, 6.3 and 6.4
MAX_BITS = 2000  # the same, 6.1 and 6.2
ADDRESSES = 65536


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterRequest:
    """One block read of `count` registers or bits from `address`, covering its bindings, at `rate_hz`."""

    unit_id: int
    table: Table
    address: int
    count: int
    rate_hz: float
    bindings: tuple[Binding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldRequest:
    """One line of text or one row of a file; `rate_hz` is None where the source itself sets the pace."""

    rate_hz: float | None
    bindings: tuple[Binding, ...]


Request = RegisterRequest | FieldRequest

_POINT_OF: dict[type[Bus], type[Point]] = {
    ModbusTcpBus: ModbusPoint,
    ModbusRtuBus: ModbusPoint,
    SerialLineBus: LineField,
    ReplayBus: ReplayField,
    OwnDriverBus: LineField,
}


def requests_of(bus: Bus, bindings: Iterable[Binding]) -> tuple[Request, ...]:
    """Return the requests that read those of `bindings` that are on `bus`.

    Raises InputError, its key naming the channel, where a point, a data type or a rate does not fit the bus.
    """
    own = [binding for binding in bindings if binding.bus == bus.name]
    for binding in own:
        _check(bus, binding)
    if isinstance(bus, ModbusTcpBus | ModbusRtuBus):
        return _register_requests(own, bus.max_gap)
    streams = isinstance(bus, ReplayBus) or (isinstance(bus, SerialLineBus) and bus.poll_request is None)
    if streams:
        return (FieldRequest(rate_hz=None, bindings=tuple(own)),) if own else ()
    rates = sorted({binding.channel.rate_hz for binding in own}, reverse=True)
    return tuple(
        FieldRequest(rate_hz=rate, bindings=tuple(b for b in own if b.channel.rate_hz == rate))
        for rate in rates
    )


def _check(bus: Bus, binding: Binding) -> None:
    channel, point = binding.channel, binding.point
    key = f"channel {channel.quantity}"
    wanted = _POINT_OF[type(bus)]
    if not isinstance(point, wanted):
        raise InputError(f"bus {bus.name} needs a {wanted.__name__}, not a {type(point).__name__}", key=key)
    if not MIN_RATE_HZ <= channel.rate_hz <= MAX_RATE_HZ:
        bounds = f"{MIN_RATE_HZ:g} to {MAX_RATE_HZ:g} Hz"
        raise InputError(f"rate {channel.rate_hz:g} Hz is outside {bounds}", key=key)
    in_registers = isinstance(point, ModbusPoint) and not point.table.holds_bits
    if in_registers == (channel.scaling.data_type is DataType.COUNT):
        choice = "uint16 or another register type" if in_registers else "count"
        raise InputError(f"data type {channel.scaling.data_type} does not fit (use {choice})", key=key)
    if channel.scaling.gain == 0.0 and not isinstance(point, ModbusPoint):
        raise InputError("gain is the step in which a text value is counted and must not be 0", key=key)
    if isinstance(point, ModbusPoint):
        _check_point(point, _width_of(binding), key)


def _check_point(point: ModbusPoint, width: int, key: str) -> None:
    if not 0 <= point.address <= ADDRESSES - width:
        raise InputError(f"address {point.address} is outside 0 to {ADDRESSES - width}", key=key)
    if not 0 <= point.unit_id <= 255:
        raise InputError(f"unit id {point.unit_id} is outside 0 to 255", key=key)


def _width_of(binding: Binding) -> int:
    """Return how many registers or bits the channel takes."""
    return WORDS_OF[binding.channel.scaling.data_type] or 1


def _register_requests(bindings: Sequence[Binding], max_gap: int) -> tuple[RegisterRequest, ...]:
    groups: dict[tuple[int, Table, float], list[tuple[int, Binding]]] = defaultdict(list)
    for binding in bindings:
        if isinstance(binding.point, ModbusPoint):
            point = binding.point
            groups[point.unit_id, point.table, binding.channel.rate_hz].append((point.address, binding))
    requests: list[RegisterRequest] = []
    for (unit_id, table, rate_hz), members in sorted(groups.items(), key=lambda item: item[0]):
        limit = MAX_BITS if table.holds_bits else MAX_REGISTERS
        requests += [
            RegisterRequest(
                unit_id=unit_id, table=table, address=start, count=count, rate_hz=rate_hz, bindings=block
            )
            for start, count, block in _blocks(members, max_gap, limit)
        ]
    return tuple(requests)


def _blocks(
    members: list[tuple[int, Binding]], max_gap: int, limit: int
) -> list[tuple[int, int, tuple[Binding, ...]]]:
    """Join neighbours from the lowest address up, which for a fixed gap and limit gives the fewest blocks.

    A channel is never split over two blocks; channels may overlap. Returns (address, count, bindings).
    """
    blocks: list[tuple[int, int, tuple[Binding, ...]]] = []
    for address, binding in sorted(members, key=lambda member: (member[0], _width_of(member[1]))):
        width = _width_of(binding)
        if blocks:
            start, count, block = blocks[-1]
            grown = max(count, address + width - start)
            if address - (start + count) <= max_gap and grown <= limit:
                blocks[-1] = (start, grown, (*block, binding))
                continue
        blocks.append((address, width, (binding,)))
    return blocks
