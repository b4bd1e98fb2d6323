"""`beadwatch scan`: who is on this bus?"""

import asyncio
import sys
from itertools import product
from typing import Annotated

import typer

from logger.acquire.serial_port import has_wire
from logger.acquire.sweep import Progress, sweep_rtu, sweep_tcp
from logger.cli.bus_options import SocketOption, WhereArgument, tcp_bus_of
from logger.cli.console import out, say
from logger.cli.idle import Lookout
from logger.daemon.clock import MachineClock
from logger.domain.bus import ModbusTcpBus, Parity, Table
from logger.domain.bus_scan import SCANNED, ScanPlan, ScanQuestion, ScanResult
from logger.domain.serial_ports import LineSetting
from logger.errors import InputError
from logger.wording.integrator_text import scan_lines, scan_plan_line, scan_progress_line

_BAUDRATES = "19200,9600,38400,57600,115200"
_LAST_UNIT_ID = 247
_CLEAR_LINE = "\r\x1b[K"


def scan(
    where: WhereArgument,
    baud: Annotated[str, typer.Option(help="Baud rates, separated by commas.")] = _BAUDRATES,
    parity: Annotated[str, typer.Option(help="Parities: E, N, O.")] = "E,N,O",
    units: Annotated[str, typer.Option(help="Unit ids, like 1-32 or 1,5,17 or 1-247.")] = "1-32",
    table: Annotated[
        list[Table] | None, typer.Option(help="Ask for this table only; may be repeated.")
    ] = None,
    timeout: Annotated[float, typer.Option(min=0.01, max=5.0, help="Seconds for each answer.")] = 0.15,
    every_setting: Annotated[
        bool, typer.Option("--every-setting", help="Go on behind the first setting with an answer.")
    ] = False,
    socket: SocketOption = None,
) -> None:
    """Ask every unit id at every setting, and list who answers. Read-only.

    A register first; who is silent or refuses, then an input register, a coil and a discrete input. It stops
    where a recorder is started or a joint opened.
    """
    lookout = Lookout(socket, "scan")
    tcp = tcp_bus_of(where, timeout)
    unit_ids = _unit_ids(units)
    settings = () if tcp else _settings(baud, parity)
    tables = tuple(one for one in SCANNED if not table or one in table)
    plan = ScanPlan(settings=settings, unit_ids=unit_ids, tables=tables, timeout_s=timeout)
    say(scan_plan_line(plan))
    try:
        result = asyncio.run(_swept(where, tcp, plan, _before_each(plan, lookout), every_setting))
    finally:
        if sys.stderr.isatty():
            sys.stderr.write(_CLEAR_LINE)
    out(scan_lines(result, plan, where, has_wire=tcp is not None or has_wire(where)))


async def _swept(
    where: str, tcp: ModbusTcpBus | None, plan: ScanPlan, before_each: Progress, every_setting: bool
) -> ScanResult:
    if tcp is not None:
        return await sweep_tcp(tcp, plan, MachineClock(), before_each)
    return await sweep_rtu(where, plan, before_each, every_setting=every_setting)


def _before_each(plan: ScanPlan, lookout: Lookout) -> Progress:
    is_terminal = sys.stderr.isatty()
    shown: list[object] = []

    def show(question: ScanQuestion) -> None:
        lookout.look()
        line = scan_progress_line(plan, question)
        if is_terminal:
            sys.stderr.write(f"{_CLEAR_LINE}{line}")
            sys.stderr.flush()
        elif shown[-1:] != [(question.setting, question.table)]:
            shown.append((question.setting, question.table))
            say(line)

    return show


def _settings(bauds: str, parities: str) -> tuple[LineSetting, ...]:
    try:
        rates = [int(text) for text in bauds.split(",")]
        letters = [Parity(text.strip().upper()) for text in parities.split(",")]
    except ValueError as error:
        raise InputError(f"{error}; give rates like 9600,19200 and parities like E,N,O") from None
    return tuple(
        LineSetting(rate, letter, 2 if letter is Parity.NONE else 1)
        for rate, letter in product(rates, letters)
    )


def _unit_ids(text: str) -> tuple[int, ...]:
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        try:
            found += range(int(first), int(last or first) + 1)
        except ValueError:
            raise InputError(f'"{part}" is no unit id; give 1-32 or 1,5,17', key="--units") from None
    if not found or not all(1 <= unit_id <= _LAST_UNIT_ID for unit_id in found):
        raise InputError(f"unit ids run from 1 to {_LAST_UNIT_ID}", key="--units")
    return tuple(found)
