"""The shape of RIG.toml; `rig_file` gives it its meaning."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from logger.config.plate_surface_table import PlateSurfaceTable
from logger.config.quantity import Area, Duration, Frequency, Length, Pressure, Rod
from logger.config.toml_file import FileModel
from logger.domain.bus import Checksum, Parity, Table
from logger.domain.channel import DataType, Quantity, WordOrder
from logger.domain.geometry import PressurisedSide
from logger.domain.rig import GaugeSide, Origin
from logger.domain.sensor_class import SensorClass

Name = Annotated[str, Field(min_length=1, max_length=100)]
Address = Annotated[int, Field(ge=0, le=65535, strict=True)]
LARGEST_UNIT_ID = 255
UnitId = Annotated[int, Field(ge=0, le=LARGEST_UNIT_ID, strict=True)]
Baud = Annotated[int, Field(ge=50, le=4_000_000, strict=True)]
Gap = Annotated[int, Field(ge=0, le=124, strict=True)]


class CylindersTable(FileModel):
    """`[cylinders]`: what the piston area follows from."""

    bore: Length
    rod: Rod
    pressurised: PressurisedSide = PressurisedSide.ROD
    """The side that closes the carriage: "rod" or "bore"."""
    count: int = Field(ge=1, le=12, strict=True)


Framing = Annotated[str, Field(max_length=8)]
Number = Annotated[float, Field(strict=True)]
YesOrNo = Annotated[bool, Field(strict=True)]
BitNumber = Annotated[int, Field(ge=0, le=63, strict=True)]
RtuParity = Literal[Parity.NONE, Parity.EVEN, Parity.ODD]


class TcpUnitTable(FileModel):
    """`[bus.X.unit.3]`: what one device needs, where it differs from its bus."""

    timeout: Duration | None = None


class RtuUnitTable(TcpUnitTable):
    worst_latency: Duration | None = None
    pause: Duration | None = None
    """Kept after this device's answer, before anybody is asked again."""


class TcpTable(FileModel):
    kind: Literal["modbus-tcp"]
    host: Name
    port: int = Field(default=502, ge=1, le=65535, strict=True)
    timeout: Duration = 0.5
    max_gap: Gap = 8
    """Registers nobody asked for that may be read along to save a request."""
    unit: dict[str, TcpUnitTable] = Field(default_factory=dict)
    """By unit id."""


class RtuTable(FileModel):
    kind: Literal["modbus-rtu"]
    path: Name
    baudrate: Baud = 19200
    parity: RtuParity = Parity.EVEN
    stop_bits: Literal[1, 2] = 1
    timeout: Duration = 0.5
    worst_latency: Duration = 0.2
    """The longest that a device on this line takes to begin its answer."""
    pause: Duration = 0.0
    max_gap: Gap = 8
    unit: dict[str, RtuUnitTable] = Field(default_factory=dict)


class LineTable(FileModel):
    kind: Literal["serial-line"]
    path: Name
    pattern: Annotated[str, Field(min_length=1, max_length=1000)]
    """Regular expression for one whole line, with a named group per channel: `p=(?P<pressure>\\S+)`."""
    baudrate: Baud = 9600
    parity: Parity = Parity.NONE
    stop_bits: float = Field(default=1, ge=1, le=2, multiple_of=0.5)
    data_bits: Literal[5, 6, 7, 8] = 8
    encoding: Literal["ascii", "latin-1", "utf-8"] = "ascii"
    line_start: Framing = ""
    """Characters every line begins with, like "\\u0002" or "$"; what is in front of them is dropped."""
    line_end: Annotated[str, Field(min_length=1, max_length=8)] = "\n"
    checksum: Checksum = Checksum.NONE
    """Hexadecimal digits at the end of the line over the text in front: none, xor, sum, crc16."""
    checksum_mark: Framing = ""
    """Characters between the text and its checksum, like "*"."""
    poll_request: str | None = None
    """Sent before each line; left out where the device streams by itself."""
    timeout: Duration = 2.0


class ReplayTable(FileModel):
    kind: Literal["replay"]
    file: Name
    """A trace CSV, relative to the rig file."""
    time_column: Name = "time_s"


class OwnDriverTable(FileModel):
    kind: Literal["own-driver"]
    file: Name
    """A Python file with the class `Driver`, relative to the rig file; it may only read."""
    path: str = ""
    """Where its device is, for the driver alone."""
    timeout: Duration = 0.5


BusTable = Annotated[
    TcpTable | RtuTable | LineTable | ReplayTable | OwnDriverTable, Field(discriminator="kind")
]


class ScaleTable(FileModel):
    """Two points of the scale: raw number, or the number in the text, and the value with its unit."""

    raw: tuple[Number, Number]
    value: tuple[Any, Any]


class SensorTable(FileModel):
    serial: str = ""
    tolerance_class: SensorClass | None = None
    """Of a plate sensor without a declared uncertainty: "Pt100-B", "K-2" and so on."""
    calibrated: date | None = None
    calibration_due: date | None = None


class PointTable(FileModel):
    """Where and how a device keeps one number: in `[channel.X]`, or `[point.X]` of a device file."""

    table: Table | None = None
    address: Address | None = None
    """From 0 within its table, as on the wire."""
    type: DataType | None = None
    word_order: WordOrder | None = None
    bits: tuple[BitNumber, BitNumber] | None = None
    """Lowest and highest bit of the number within its register, 0 the least significant."""
    signal: Literal["4-20 mA"] | None = None
    """The two points of the scale are 4 and 20 mA: a broken wire and an over-range are told apart."""
    gain: Any = None
    """Value of one count with its unit; on text and replay the step in which the value is counted."""
    offset: Any = None


class ChannelTable(PointTable):
    """`[channel.X]`: where a quantity is read and what its raw number means."""

    bus: str
    unit_id: UnitId | None = None
    device: str | None = None
    """A device file by its name, like "analogue-input-8"; `point` is one of its points."""
    point: str | None = None
    span: tuple[Any, Any] | None = None
    """Values at the two raw numbers of the device's point."""
    field: str | None = None
    """Named group of a text line, or column of a replayed trace."""
    scale: ScaleTable | None = None
    polynomial: Annotated[list[Any], Field(min_length=2, max_length=8)] | None = None
    """Coefficients with their unit, constant first: value = c0 + c1 n + c2 n^2 + ..."""
    rate: Frequency = Field(default=10.0, ge=1, le=50)
    valid: tuple[Any, Any] | None = None
    """Least and greatest value that the sensor can mean."""
    max_change_per_s: Any = None
    """Greatest change in a second; a faster one is marked and not used."""
    stuck_after: Duration | None = None
    """The same raw number for so long is a stuck sensor; only for a sensor that never rests."""
    agrees_within: Any = None
    """Greatest difference to the second sensor, [channel.pressure_2] or [channel.plate_temperature_2]."""
    uncertainty: Any = None
    """Standard uncertainty."""
    sensor: SensorTable = SensorTable()


class ApiTable(FileModel):
    """`[api]`: a link over TCP beside the local socket; an address on the network needs TLS too."""

    listen: Name
    """HOST:PORT, such as "127.0.0.1:8720"."""
    token_file: Name
    """Holds the token that viewers send; nobody else may read it. Paths are relative to this file."""
    tls_cert: str = ""
    tls_key: str = ""


class CommissioningTable(FileModel):
    """`[commissioning]`: what was measured when the sensors were fitted."""

    hydraulic_lag: Duration = Field(gt=0, le=5)
    """How late the gauge shows a ramp of the pressure at the cylinders: hose, snubber, oil, damping."""
    hydraulic_lag_uncertainty: Duration = Field(gt=0, le=5)
    """Standard uncertainty; cold oil and another hose move the lag, so it is told anew from every joint."""
    measured: date
    sheet: Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")] = ""
    """SHA-256 of the commissioning's data, as printed on its sheet: so it is part of every joint's record."""


class RigFile(FileModel):
    """The keys of RIG.toml, format 1."""

    format: Literal[1] = 1
    name: Name
    serial: str = ""
    cylinder_area: Area | None = None
    """Total effective piston area, as on the machine's plate."""
    cylinders: CylindersTable | None = None
    relief_pressure: Pressure | None = None
    """Setting of the power pack's relief valve."""
    gauge_span: Pressure | None = None
    """Span of the pressure transmitter; left out, that of its two-point scale."""
    gauge_side: GaugeSide = GaugeSide.UNKNOWN
    """Where the pressure transmitter sits: ahead of the valve, "closing" side of the cylinders, unknown."""
    check_valve: YesOrNo | None = None
    """Whether a check or shut-off valve, or couplings parted in cooling, can part gauge and cylinders."""
    accumulator: YesOrNo | None = None
    """Whether the circuit has an accumulator."""
    power_pack_serial: str = ""
    """Of the power pack; `serial` is the carriage's."""
    origin: Origin | None = None
    commissioning: CommissioningTable | None = None
    plate_surface: PlateSurfaceTable | None = None
    api: ApiTable | None = None
    device: dict[Name, dict[str, Any]] = Field(default_factory=dict)
    """By name, what a device file holds: the record writes it here, so that a joint needs no other file."""
    bus: dict[Name, BusTable] = Field(min_length=1)
    channel: dict[Quantity, ChannelTable] = Field(min_length=1)
