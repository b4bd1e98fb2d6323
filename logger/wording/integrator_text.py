"""What `ports`, `scan` and `probe` say."""

from collections.abc import Iterable, Sequence

from logger.domain.bus import Table
from logger.domain.bus_scan import FoundUnit, ScanPlan, ScanQuestion, ScanResult
from logger.domain.channel import FLOATS, WORDS_OF, DataType, WordOrder
from logger.domain.decoding import Decoding, Match, decodings_of, orders_of
from logger.domain.serial_ports import PortDescription, PortHint

_HINTS = {
    PortHint.NAME_MAY_CHANGE: "this name may be another port's after the next start; see the udev example",
    PortHint.BY_SOCKET: "has no number of its own: the name belongs to this USB socket, leave it there",
    PortHint.NO_PERMISSION: "this user may not open it; the group dialout usually may",
    PortHint.SLOW_ADAPTER: "holds bytes back for {latency_ms} ms; latency_timer = 1 gives faster polling",
    PortHint.BUILT_IN: "on the board; RS-232 levels, not RS-485, unless its maker says so",
}
_REFERENCE_BASE = {Table.COIL: 1, Table.DISCRETE: 10001, Table.INPUT: 30001, Table.HOLDING: 40001}
"""Printed numbers of the first coil, input and register: convention, coils seen, the rest from memory."""

FITTING_CAUTIONS = (
    "Fitting sensors can hurt. Isolate the rig, relieve the accumulator and prove zero pressure before you",
    "open a fitting; use parts rated above the highest relief pressure. Never drill the plate or break its",
    "earth. Extra-low voltage, isolated from the heater's mains, behind residual-current protection; never",
    "in a gas-hazard zone. Compare the leak-down before and after. Strokes only with everyone clear. Local",
    "codes, the rig's own instructions and licensed practice come first. Beadwatch only reads.",
)
SCAN_CAUTION = (
    "Only a line that serves nothing else: a second master disturbs a machine's own controller. "
    "Nothing is written."
)


def port_lines(ports: Sequence[PortDescription]) -> list[str]:
    """Return a block per port: the name to use, what it is, and hints."""
    if not ports:
        return ["no serial port is here (pseudo terminals and network ports are not listed)"]
    lines = []
    for port in ports:
        lines.append(port.stable_path)
        if port.path != port.stable_path:
            lines.append(f"  now {port.path}")
        if port.description or port.serial_number:
            number = f", serial number {port.serial_number}" if port.serial_number else ""
            lines.append(f"  {port.description or 'adapter without a name'}{number}")
        lines += [f"  {_HINTS[hint].format(latency_ms=port.latency_ms)}" for hint in port.hints]
    return lines


_ASKED = {
    Table.HOLDING: "holding register",
    Table.INPUT: "input register",
    Table.COIL: "coil",
    Table.DISCRETE: "discrete input",
}


def scan_plan_line(plan: ScanPlan) -> str:
    """Say what will be asked and how long it takes at most."""
    settings = f"{len(plan.settings)} settings x " if plan.settings else ""
    tables = f"{len(plan.tables)} tables x " if len(plan.tables) > 1 else ""
    rest = (
        f" The {_ASKED[plan.tables[0]]}s, which nearly all devices have, come first."
        if len(plan.tables) > 1
        else ""
    )
    return (
        f"{tables}{settings}{len(plan.unit_ids)} unit ids, {1000 * plan.timeout_s:g} ms each: "
        f"at most {plan.bound_s:.0f} s.{rest} {SCAN_CAUTION}"
    )


def scan_progress_line(plan: ScanPlan, question: ScanQuestion) -> str:
    where = "" if question.setting is None else f"{question.setting}, "
    percent = 100 * question.number // plan.questions
    return f"{percent:3} %  {_ASKED[question.table]}, {where}unit {question.unit_id}"


def scan_lines(result: ScanResult, plan: ScanPlan, path: str, *, has_wire: bool) -> list[str]:
    """Return one line per device, then what disturbed and what to do next."""
    lines = [_found_line(found) for found in result.found]
    if not result.found:
        lines.append(
            f"no device answered among units {plan.unit_ids[0]} to {plan.unit_ids[-1]}: check the wires "
            f"(A and B may be swapped), power, common ground and termination; a device slower than "
            f"{1000 * plan.timeout_s:g} ms needs --timeout"
        )
    lines += [
        f"{setting}: bytes that are nobody's answer; another master, noise, or another baud rate or parity"
        for setting in result.disturbed
    ]
    if result.found and result.found[0].setting is not None:
        if not has_wire:
            lines.append("a pseudo terminal has no baud rate or parity: any setting would have done")
        first = result.found[0]
        setting = result.found[0].setting
        lines.append(
            f"next: beadwatch probe {path} --unit {first.unit_id}{_table_option(first)} --baud "
            f"{setting.baudrate} --parity {setting.parity} --stop-bits {setting.stop_bits}"
        )
    elif result.found:
        first = result.found[0]
        lines.append(f"next: beadwatch probe {path} --unit {first.unit_id}{_table_option(first)}")
    return lines


def _found_line(found: FoundUnit) -> str:
    setting = "" if found.setting is None else f"  {found.setting}"
    how = f"has {_ASKED[found.table]}s"
    if found.exception is not None:
        how = f"refuses {_ASKED[found.table]} 0 (exception {found.exception}), others may be there"
    return f"unit {found.unit_id}{setting}  answered in {1000 * found.latency_s:.1f} ms, {how}"


def _table_option(found: FoundUnit) -> str:
    """Return what `probe` needs to be told: it looks at input registers by itself."""
    is_data = found.exception is None and found.table is not Table.INPUT
    return f" --table {found.table}" if is_data else ""


def reference_of(table: Table, address: int) -> int:
    """Return the number that a manual prints, which counts from 1 and begins with the table's digit."""
    return _REFERENCE_BASE[table] + address


def place_of(reference: int) -> tuple[Table, int]:
    """Return table and address (from 0) of a printed number. Raises ValueError where it is none."""
    for table, base in sorted(_REFERENCE_BASE.items(), key=lambda item: -item[1]):
        if base <= reference < base + 9999:
            return table, reference - base
    raise ValueError(f"{reference} is no printed number: 1 to 9999, 10001 to, 30001 to and 40001 to 49999")


def probe_lines(table: Table, address: int, raws: Sequence[int]) -> list[str]:
    """Return the raw numbers with their wire address and printed number, then every plausible decoding."""
    if table.holds_bits:
        rows = [(address + n, f"{raw}") for n, raw in enumerate(raws)]
        return ["address  printed  bit", *(f"{at:7}  {reference_of(table, at):7}  {bit}" for at, bit in rows)]
    lines = ["address  printed   hex   uint16   int16   bytes swapped: uint16   int16"]
    decodings = list(decodings_of(raws, address))
    shown = {(d.address, d.data_type, d.word_order): d for d in decodings}
    for number, raw in enumerate(raws):
        at = address + number
        cells = [
            _cell(shown[at, data_type, order], width)
            for order, widths in ((WordOrder.ABCD, (8, 8)), (WordOrder.BADC, (24, 8)))
            for data_type, width in zip((DataType.UINT16, DataType.INT16), widths, strict=True)
        ]
        lines.append(f"{at:7}  {reference_of(table, at):7}  {raw:04X} {''.join(cells)}")
    for data_type in sorted({d.data_type for d in decodings if WORDS_OF[d.data_type] > 1}, key=_by_width):
        lines += ["", f"{data_type} from    " + "".join(f"{order:>22}" for order in orders_of(data_type))]
        for at in sorted({d.address for d in decodings if d.data_type is data_type}):
            row = (_cell(shown[at, data_type, order], 22) for order in orders_of(data_type))
            lines.append(f"{at:7}  {reference_of(table, at):7} {''.join(row)}")
    return lines


def match_lines(table: Table, matches: Iterable[Match], expected: float) -> list[str]:
    """Return the readings that give the expected value, with the keys of a rig file."""
    lines = []
    for match in matches:
        one = match.decoding
        order = "" if WORDS_OF[one.data_type] == 1 and one.word_order is WordOrder.ABCD else one.word_order
        keys = f'table = "{table}", address = {one.address}, type = "{one.data_type}"'
        keys += f', word_order = "{order}"' if order else ""
        factor = "" if match.factor == 1.0 else f" x {match.factor:g}, so gain = {match.factor:g} of the unit"
        lines.append(
            f"{_number(one)}{factor}  is {expected:g} within {100 * match.error:.2g} %:  {keys}"
            f"   (printed {reference_of(table, one.address)})"
        )
    return lines or [f"nothing here is {expected:g}, as it stands or by a power of ten"]


def text_lines(received: bytes) -> list[str]:
    """Return what a text device sent, line by line, with every byte visible."""
    if not received:
        return [
            "nothing came: does the device wait for a request (--request)? Are baud rate and parity right?"
        ]
    parts = received.splitlines(keepends=True)
    return [*(repr(part)[1:] for part in parts), f"{len(received)} bytes, {len(parts)} lines"]


def _by_width(data_type: DataType) -> tuple[int, str]:
    return WORDS_OF[data_type], data_type


def _cell(decoding: Decoding, width: int) -> str:
    return f"{_number(decoding) if decoding.is_plausible else '-':>{width}}"


def _number(decoding: Decoding) -> str:
    return f"{decoding.number:.7g}" if decoding.data_type in FLOATS else str(decoding.number)
