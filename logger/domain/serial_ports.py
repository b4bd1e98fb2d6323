"""The serial ports of a machine, and how a line is set, as an integrator meets them."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.bus import Parity


class PortHint(StrEnum):
    """What to know of a port before it goes into a rig file."""

    NAME_MAY_CHANGE = "name_may_change"
    """It has no name that stays when it is plugged in elsewhere or after another."""
    BY_SOCKET = "by_socket"
    """Its stable name is that of the USB socket: it must stay in it."""
    NO_PERMISSION = "no_permission"
    SLOW_ADAPTER = "slow_adapter"
    """Its adapter holds bytes back for `latency_ms`."""
    BUILT_IN = "built_in"


@dataclass(frozen=True, slots=True, kw_only=True)
class PortDescription:
    """One port; `stable_path` is the name to write into a rig file."""

    path: str
    stable_path: str
    description: str = ""
    serial_number: str = ""
    latency_ms: int | None = None
    hints: tuple[PortHint, ...] = ()


@dataclass(frozen=True, slots=True)
class LineSetting:
    """Baud rate, parity and stop bits of a Modbus RTU line."""

    baudrate: int
    parity: Parity
    stop_bits: int

    def __str__(self) -> str:
        return f"{self.baudrate} Bd 8{self.parity}{self.stop_bits}"
