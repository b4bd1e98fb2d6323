"""How a rig's channels are wired: buses, points and the binding of each channel; nothing is opened."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.channel import Channel, Scaling
from logger.domain.listen import ListenOptions
from logger.domain.rig import Rig


class Parity(StrEnum):
    """Parity bit of a serial character, by its usual letter."""

    NONE = "N"
    EVEN = "E"
    ODD = "O"
    MARK = "M"
    SPACE = "S"


class Table(StrEnum):
    """The four data tables of a Modbus device (MODBUS Application Protocol V1.1b3, 4.3); only read here."""

    COIL = "coil"
    DISCRETE = "discrete"
    HOLDING = "holding"
    INPUT = "input"

    @property
    def holds_bits(self) -> bool:
        return self in (Table.COIL, Table.DISCRETE)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTiming:
    """What one device on a Modbus bus needs, where it differs from its bus; meaning as there."""

    unit_id: int
    timeout_s: float
    worst_latency_s: float = 0.0
    pause_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusTcpBus:
    """A Modbus TCP device or gateway.

    `timeout_s` bounds one answer and one connection attempt, in real seconds. `max_gap` is the greatest
    number of registers (or bits) nobody asked for that may be read along to save a request.
    """

    name: str
    host: str
    port: int = 502
    timeout_s: float = 0.5
    max_gap: int = 8
    units: tuple[UnitTiming, ...] = ()

    def timing_of(self, unit_id: int) -> UnitTiming:
        own = (unit for unit in self.units if unit.unit_id == unit_id)
        return next(own, UnitTiming(unit_id=unit_id, timeout_s=self.timeout_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusRtuBus:
    """A Modbus RTU line: 8 data bits, the device's own baud rate, parity and stop bits.

    `worst_latency_s` is the longest a device on this line takes to begin its answer, as its maker declares;
    `timeout_s` must not be shorter. After a time-out the line stays quiet for twice `worst_latency_s`.
    `pause_s` is kept between an answer and the next request, beside the 3.5 characters of the standard.
    """

    name: str
    path: str
    baudrate: int = 19200
    parity: Parity = Parity.EVEN
    stop_bits: int = 1
    timeout_s: float = 0.5
    worst_latency_s: float = 0.2
    pause_s: float = 0.0
    max_gap: int = 8
    units: tuple[UnitTiming, ...] = ()

    def timing_of(self, unit_id: int) -> UnitTiming:
        of_bus = UnitTiming(
            unit_id=unit_id,
            timeout_s=self.timeout_s,
            worst_latency_s=self.worst_latency_s,
            pause_s=self.pause_s,
        )
        return next((unit for unit in self.units if unit.unit_id == unit_id), of_bus)


class Checksum(StrEnum):
    """How a text line proves itself: hexadecimal digits at its end over all characters in front of them."""

    NONE = "none"
    XOR = "xor"
    """All bytes combined by exclusive or: two digits."""
    SUM = "sum"
    """Sum of all bytes modulo 256: two digits."""
    CRC16 = "crc16"
    """The CRC of Modbus RTU, most significant byte first: four digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialLineBus:
    """A device that sends lines of text, by itself or when asked.

    `path` is a port or a pyserial URL. `pattern` is a regular expression with one named group per field,
    matched against the whole line without its start, end and checksum. `poll_request` is sent before each
    line; None means that the device streams. `timeout_s` is the longest wait for a line, in real seconds.
    What stands in front of the last `line_start` is no part of a line; `checksum_mark` stands between the
    text and the digits of its checksum.
    """

    name: str
    path: str
    pattern: str
    baudrate: int = 9600
    parity: Parity = Parity.NONE
    stop_bits: float = 1
    data_bits: int = 8
    encoding: str = "ascii"
    line_start: str = ""
    line_end: str = "\n"
    checksum: Checksum = Checksum.NONE
    checksum_mark: str = ""
    poll_request: str | None = None
    timeout_s: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplayBus:
    """A recorded trace CSV as a rig; the samples carry the times of the file's `time_column`."""

    name: str
    file: str
    time_column: str = "time_s"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDriverBus:
    """A device that an integrator's own driver reads: the class `Driver` of a Python `file`.

    `path` is for that driver alone, which gets this bus; `timeout_s` is the longest wait for an answer.
    """

    name: str
    file: str
    path: str = ""
    timeout_s: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusPoint:
    """Where a channel begins in a device: `address` counts from 0 within its table, as on the wire."""

    unit_id: int
    table: Table
    address: int


AS_WRITTEN = Scaling()
"""The number in a text is the value itself, in the channel's unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineField:
    """The named group of the bus's pattern that holds the channel, and what the number in the text means.

    On a bus with a driver of its own `group` is that driver's name for the channel.
    """

    group: str
    meaning: Scaling = AS_WRITTEN


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplayField:
    """The column of the trace CSV that holds the channel, and what the number in it means."""

    column: str
    meaning: Scaling = AS_WRITTEN


Bus = ModbusTcpBus | ModbusRtuBus | SerialLineBus | ReplayBus | OwnDriverBus
Point = ModbusPoint | LineField | ReplayField


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """One channel, the name of its bus and its place on it.

    A channel in registers has a data type other than COUNT; a bit, a text field and a trace column are COUNT,
    where the scaling's gain is the step in which a text value is counted.
    """

    channel: Channel
    bus: str
    point: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Installation:
    """A rig with its wiring: what the poller needs to start, and where else than locally it is reached."""

    rig: Rig
    buses: tuple[Bus, ...]
    bindings: tuple[Binding, ...]
    listen: ListenOptions | None = None
