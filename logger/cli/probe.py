"""`beadwatch probe`: what do these registers, or this text device, say, and what can it mean?"""

import asyncio
import contextlib
import sys
from dataclasses import dataclass
from typing import Annotated

import typer

from logger.acquire.grouping import ADDRESSES
from logger.acquire.line_link import bytes_from
from logger.acquire.probing import Probe
from logger.cli.bus_options import (
    BaudOption,
    Line,
    ParityOption,
    SocketOption,
    StopBitsOption,
    WhereArgument,
    modbus_bus_of,
)
from logger.cli.console import out, say
from logger.cli.idle import Lookout
from logger.daemon.clock import MachineClock
from logger.domain.bus import ModbusRtuBus, ModbusTcpBus, Parity, SerialLineBus, Table
from logger.domain.decoding import matches_of
from logger.errors import DeviceError, InputError
from logger.wording.integrator_text import match_lines, place_of, probe_lines, text_lines

_EVERY_S = 1.0
_CLEAR = "\x1b[2J\x1b[H"


@dataclass(frozen=True)
class _Block:
    table: Table
    address: int
    count: int
    expected: float | None
    is_live: bool


def probe(
    where: WhereArgument,
    unit: Annotated[int, typer.Option(min=0, max=255, help="Unit id of the device.")] = 1,
    table: Annotated[Table, typer.Option(help="Which of its tables.")] = Table.INPUT,
    address: Annotated[int, typer.Option(min=0, max=65535, help="First address, from 0 as on the wire.")] = 0,
    reference: Annotated[
        int | None, typer.Option(help="Instead of table and address: a printed number like 30011 or 40001.")
    ] = None,
    count: Annotated[int, typer.Option(min=1, max=125, help="How many registers or bits.")] = 4,
    expect: Annotated[
        float | None, typer.Option(help="The value it should show: which reading gives it?")
    ] = None,
    live: Annotated[bool, typer.Option("--live", help="Again every second, until Ctrl-C.")] = False,
    text: Annotated[bool, typer.Option("--text", help="A device that sends lines of text.")] = False,
    request: Annotated[str | None, typer.Option(help="With --text: sent first.")] = None,
    baud: BaudOption = 19200,
    parity: ParityOption = Parity.EVEN,
    stop_bits: StopBitsOption = 1,
    timeout: Annotated[float, typer.Option(min=0.01, max=10.0, help="Seconds for an answer.")] = 0.5,
    socket: SocketOption = None,
) -> None:
    """Show raw registers with every plausible decoding side by side. Read-only."""
    lookout = Lookout(socket, "probe")
    line = Line(baudrate=baud, parity=parity, stop_bits=stop_bits)
    if text:
        _listen(where, line, request, max(timeout, _EVERY_S))
        return
    if reference is not None:
        try:
            table, address = place_of(reference)
        except ValueError as error:
            raise InputError(str(error), key="--reference") from None
    if address + count > ADDRESSES:
        raise InputError(f"{count} from {address} run past the last address, {ADDRESSES - 1}", key="--count")
    block = _Block(table, address, count, expect, live)
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_look(modbus_bus_of(where, line, timeout), unit, block, lookout))


async def _look(bus: ModbusRtuBus | ModbusTcpBus, unit: int, block: _Block, lookout: Lookout) -> None:
    looking = Probe(bus, unit, (block.table, block.address, block.count), MachineClock())
    try:
        while True:
            lookout.look()
            try:
                raws, took_s = await looking.read()
            except DeviceError as error:
                if not block.is_live:
                    raise
                say(str(error))
            else:
                _show(block, unit, raws, took_s)
            if not block.is_live:
                return
            await asyncio.sleep(_EVERY_S)
    finally:
        await looking.close()


def _show(block: _Block, unit: int, raws: list[int], took_s: float) -> None:
    if block.is_live and sys.stdout.isatty():
        sys.stdout.write(_CLEAR)
    what = "bits" if block.table.holds_bits else "registers"
    out([f"unit {unit}, {block.table} {what}, answered in {1000 * took_s:.1f} ms"])
    out(probe_lines(block.table, block.address, raws))
    if block.expected is not None and not block.table.holds_bits:
        matches = matches_of(raws, block.address, block.expected)
        out(["", *match_lines(block.table, matches, block.expected)])


def _listen(where: str, line: Line, request: str | None, seconds: float) -> None:
    bus = SerialLineBus(
        name="bus",
        path=where,
        pattern="",
        baudrate=line.baudrate,
        parity=line.parity,
        stop_bits=line.stop_bits,
        poll_request=request,
    )
    out(text_lines(bytes_from(bus, seconds)))
