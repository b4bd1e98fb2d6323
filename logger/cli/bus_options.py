"""A bus named on the command line: a serial port, or HOST:PORT for Modbus TCP."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from logger.domain.bus import ModbusRtuBus, ModbusTcpBus, Parity

_TCP = re.compile(r"^(\[[0-9A-Fa-f:]+\]|[^/:]+):(\d+)$")

WhereArgument = Annotated[
    str, typer.Argument(metavar="PORT", help="A serial port (beadwatch ports), or HOST:PORT for Modbus TCP.")
]
SocketOption = Annotated[Path | None, typer.Option(help="The recorder's local socket.", readable=False)]
BaudOption = Annotated[int, typer.Option(min=50, max=4_000_000, help="Baud rate.")]
ParityOption = Annotated[Parity, typer.Option(help="Parity: N, E or O.")]
StopBitsOption = Annotated[int, typer.Option(min=1, max=2, help="Stop bits.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """How a serial line is set."""

    baudrate: int
    parity: Parity
    stop_bits: int


def tcp_bus_of(where: str, timeout_s: float) -> ModbusTcpBus | None:
    """Return the TCP bus that `where` names, None for a serial port."""
    match = _TCP.match(where)
    if match is None:
        return None
    return ModbusTcpBus(name="bus", host=match[1].strip("[]"), port=int(match[2]), timeout_s=timeout_s)


def modbus_bus_of(where: str, line: Line, timeout_s: float) -> ModbusTcpBus | ModbusRtuBus:
    """Return the bus for reading one device; its latency may be as long as its time-out."""
    return tcp_bus_of(where, timeout_s) or ModbusRtuBus(
        name="bus",
        path=where,
        baudrate=line.baudrate,
        parity=line.parity,
        stop_bits=line.stop_bits,
        timeout_s=timeout_s,
        worst_latency_s=timeout_s / 2,
    )
