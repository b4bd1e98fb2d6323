"""Two channels that read the same registers: one of the two addresses is wrong."""

from collections.abc import Sequence
from itertools import combinations

from logger.domain.bus import Binding, ModbusPoint
from logger.domain.channel import WORDS_OF, Quantity


def shared_registers(bindings: Sequence[Binding]) -> tuple[Quantity, str] | None:
    """Return the first channel that reads what another one reads already, and a line that says so, or None.

    Two fields of bits of one register are two numbers as long as they have no bit in common.
    """
    for one, other in combinations(bindings, 2):
        a, b = one.point, other.point
        if not (isinstance(a, ModbusPoint) and isinstance(b, ModbusPoint) and one.bus == other.bus):
            continue
        first, second = _span(one, a), _span(other, b)
        if (a.unit_id, a.table) != (b.unit_id, b.table) or not _have_in_common(first, second):
            continue
        if first == second and _are_other_bits(one, other):
            continue
        line = (
            f"{a.table} {max(first[0], second[0])} of unit {a.unit_id} is read by "
            f"[channel.{one.channel.quantity}] already; the next behind it is {first[1]}"
        )
        return other.channel.quantity, line
    return None


def _span(binding: Binding, point: ModbusPoint) -> tuple[int, int]:
    return point.address, point.address + (WORDS_OF[binding.channel.scaling.data_type] or 1)


def _have_in_common(one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Tell whether two ranges meet; each is its first number and the one behind its last."""
    return one[0] < other[1] and other[0] < one[1]


def _are_other_bits(one: Binding, other: Binding) -> bool:
    a, b = one.channel.scaling.bits, other.channel.scaling.bits
    if a is None or b is None:
        return a is not b
    return not _have_in_common((a[0], a[1] + 1), (b[0], b[1] + 1))
