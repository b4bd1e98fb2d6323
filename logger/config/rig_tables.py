"""The shape of RIG.toml; `rig_file` gives it its meaning."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from logger.config.quantity import Area, Duration, Frequency, Length, Pressure, Rod
from logger.config.toml_file import FileModel
from logger.domain.bus import Parity, Table
from logger.domain.channel import DataType, Quantity, WordOrder
from logger.domain.geometry import PressurisedSide
from logger.domain.rig import GaugeSide, Origin
from logger.domain.sensor_class import SensorClass

Name = Annotated[str, Field(min_length=1, max_length=100)]
Address = Annotated[int, Field(ge=0, le=65535, strict=True)]
UnitId = Annotated[int, Field(ge=0, le=255, strict=True)]
Baud = Annotated[int, Field(ge=300, le=1_000_000, strict=True)]
Gap = Annotated[int, Field(ge=0, le=124, strict=True)]


class CylindersTable(FileModel):
    """`[cylinders]`: what the piston area follows from."""

    bore: Length
    rod: Rod
    pressurised: PressurisedSide = PressurisedSide.ROD
    """The side that closes the carriage: "rod" or "bore"."""
    count: int = Field(ge=1, le=12, strict=True)


class TcpTable(FileModel):
    kind: Literal["modbus-tcp"]
    host: Name
    port: int = Field(default=502, ge=1, le=65535, strict=True)
    timeout: Duration = 0.5
    max_gap: Gap = 8
    """Registers nobody asked for that may be read along to save a request."""


class RtuTable(FileModel):
    kind: Literal["modbus-rtu"]
    path: Name
    baudrate: Baud = 19200
    parity: Parity = Parity.EVEN
    stop_bits: Literal[1, 2] = 1
    timeout: Duration = 0.5
    worst_latency: Duration = 0.2
    """The longest that a device on this line takes to begin its answer."""
    pause: Duration = 0.0
    max_gap: Gap = 8


class LineTable(FileModel):
    kind: Literal["serial-line"]
    path: Name
    pattern: Name
    """Regular expression for one whole line, with a named group per channel: `p=(?P<pressure>\\S+)`."""
    baudrate: Baud = 9600
    parity: Parity = Parity.NONE
    stop_bits: Literal[1, 2] = 1
    data_bits: Literal[7, 8] = 8
    encoding: Literal["ascii", "latin-1", "utf-8"] = "ascii"
    line_end: Literal["\n", "\r", "\r\n"] = "\n"
    poll_request: str | None = None
    """Sent before each line; left out where the device streams by itself."""
    timeout: Duration = 2.0


class ReplayTable(FileModel):
    kind: Literal["replay"]
    file: Name
    """A trace CSV, relative to the rig file."""
    time_column: Name = "time_s"


BusTable = Annotated[TcpTable | RtuTable | LineTable | ReplayTable, Field(discriminator="kind")]


class ScaleTable(FileModel):
    """Two points of the scale: raw number and the value with its unit."""

    raw: tuple[float, float]
    value: tuple[Any, Any]


class SensorTable(FileModel):
    serial: str = ""
    tolerance_class: SensorClass | None = None
    """Of a plate sensor without a declared uncertainty: "Pt100-B", "K-2" and so on."""
    calibrated: date | None = None
    calibration_due: date | None = None


class ChannelTable(FileModel):
    """`[channel.X]`: where a quantity is read and what its raw number means."""

    bus: str
    unit_id: UnitId | None = None
    table: Table | None = None
    address: Address | None = None
    """From 0 within its table, as on the wire."""
    type: DataType | None = None
    word_order: WordOrder | None = None
    field: str | None = None
    """Named group of a text line, or column of a replayed trace."""
    scale: ScaleTable | None = None
    gain: Any = None
    """Value of one count with its unit; on text and replay the step in which the value is counted."""
    offset: Any = None
    rate: Frequency = Field(default=10.0, ge=1, le=50)
    valid: tuple[Any, Any] | None = None
    """Least and greatest value that the sensor can mean."""
    uncertainty: Any = None
    """Standard uncertainty."""
    sensor: SensorTable = SensorTable()


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
    origin: Origin | None = None
    bus: dict[Name, BusTable] = Field(min_length=1)
    channel: dict[Quantity, ChannelTable] = Field(min_length=1)
