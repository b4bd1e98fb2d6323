"""RIG.toml to the domain's `Installation`: buses, channels with their scalings, the piston area."""

import re
from pathlib import Path

from logger.config.channel_reader import ChannelReader
from logger.config.cylinders import checked_piston_area_mm2
from logger.config.device_file import DeviceFile, text_of
from logger.config.formula import nearest
from logger.config.plate_surface_table import plate_surface_of
from logger.config.quantity import GAUGE_POINT, parse_quantity
from logger.config.rig_tables import (
    LARGEST_UNIT_ID,
    BusTable,
    LineTable,
    OwnDriverTable,
    ReplayTable,
    RigFile,
    RtuTable,
    RtuUnitTable,
    TcpTable,
    TcpUnitTable,
)
from logger.config.rtu_budget import overload_of
from logger.config.shared_registers import shared_registers
from logger.config.toml_file import Document, Place, read_document
from logger.domain.bus import (
    Bus,
    Installation,
    ModbusRtuBus,
    ModbusTcpBus,
    OwnDriverBus,
    ReplayBus,
    SerialLineBus,
    UnitTiming,
)
from logger.domain.channel import Quantity
from logger.domain.listen import ListenOptions
from logger.domain.rig import HydraulicLag, Origin, Rig


def load_rig(path: Path) -> Installation:
    """Read RIG.toml.

    Raises:
        InputError: one line naming file, line and key, with the nearest valid choice.
    """
    return _Reader(read_document(path), path.parent).installation()


def rig_of(text: str, file: str = "rig", folder: Path = Path()) -> Installation:
    """Read the text of a RIG.toml; replay files and device files are looked for from `folder` on."""
    return _Reader(Document(text, file), folder).installation()


_PROTOCOLS = ("socket", "rfc2217", "spy", "loop", "hwgrep", "alt", "cp2110")
"""Those that pyserial has a handler for."""


def recorded_rig_of(text: str, file: str) -> Installation:
    """Read the text of a RIG.toml from a record: no other file is read, what was recorded is taken."""
    return _Reader(Document(text, file), Path(), is_recorded=True).installation()


def whole_text(text: str, folder: Path) -> str:
    """Return the text of a RIG.toml with the devices that it names in it, as a record keeps it."""
    document = Document(text, "rig")
    reader = _Reader(document, folder)
    reader.installation()
    inline = document.tables.get("device", {})
    return "\n".join(
        [text, *(text_of(name, of) for name, of in reader.devices.items() if name not in inline)]
    )


class _Reader:
    def __init__(self, document: Document, folder: Path, *, is_recorded: bool = False) -> None:
        self._is_recorded = is_recorded
        self.devices: dict[str, DeviceFile] = {}
        """The devices that the channels name."""
        self._document = document
        self._folder = folder
        self._file = document.checked(RigFile)

    def installation(self) -> Installation:
        file = self._file
        buses = tuple(self._bus(name, table) for name, table in file.bus.items())
        channels = ChannelReader(
            document=self._document,
            buses=file.bus,
            quantities=frozenset(file.channel),
            folder=None if self._is_recorded else self._folder / "devices",
            inline=file.device,
        )
        bindings = tuple(
            channels.binding(quantity, file.channel[quantity])
            for quantity in Quantity
            if quantity in file.channel
        )
        if Quantity.PRESSURE not in file.channel:
            raise self._document.error(("channel",), "a rig needs [channel.pressure]")
        self.devices = channels.devices
        shared = None if self._is_recorded else shared_registers(bindings)
        if shared is not None:
            key = "address" if file.channel[shared[0]].device is None else "point"
            raise self._document.error(("channel", str(shared[0]), key), shared[1])
        for bus in buses:
            if isinstance(bus, ModbusRtuBus):
                overload = overload_of(bus, bindings)
                if overload:
                    raise self._document.error(("bus", bus.name), overload)
        rig = Rig(
            name=file.name,
            serial=file.serial,
            piston_area_mm2=self._area(),
            gauge_side=file.gauge_side,
            origin=self._origin(buses),
            channels=tuple(binding.channel for binding in bindings),
            relief_pressure_bar=file.relief_pressure,
            gauge_span_bar=self._gauge_span(),
            check_valve=file.check_valve,
            accumulator=file.accumulator,
            power_pack_serial=file.power_pack_serial,
            commissioned_lag=self._commissioned_lag(),
            plate_surface=plate_surface_of(self._document, file.plate_surface),
        )
        return Installation(rig=rig, buses=buses, bindings=bindings, listen=self._listen())

    def _listen(self) -> ListenOptions | None:
        table = self._file.api
        if table is None:
            return None
        paths = {
            key: str(self._folder / path) if path else ""
            for key, path in table.model_dump(exclude={"listen"}).items()
        }
        return ListenOptions(address=table.listen, **paths)

    def _origin(self, buses: tuple[Bus, ...]) -> Origin:
        replayed = all(isinstance(bus, ReplayBus) for bus in buses)
        if self._file.origin is None:
            return Origin.REPLAY if replayed else Origin.LIVE
        if replayed and self._file.origin is Origin.LIVE:
            raise self._document.error(("origin",), '"live" cannot be: every bus is a replay')
        return self._file.origin

    def _commissioned_lag(self) -> HydraulicLag | None:
        table = self._file.commissioning
        if table is None:
            return None
        return HydraulicLag(
            lag_s=table.hydraulic_lag,
            u_s=table.hydraulic_lag_uncertainty,
            measured_on=table.measured.isoformat(),
        )

    def _gauge_span(self) -> float | None:
        if self._file.gauge_span is not None:
            return self._file.gauge_span
        scale = self._file.channel[Quantity.PRESSURE].scale
        if scale is None:
            return None
        low, high = (parse_quantity(value, GAUGE_POINT) for value in scale.value)
        return abs(high - low)

    def _area(self) -> float | None:
        table, given = self._file.cylinders, self._file.cylinder_area
        if table is None:
            return given
        return checked_piston_area_mm2(
            self._document,
            ("cylinders",),
            (table.bore, table.rod, table.count, table.pressurised),
            (given, ("cylinder_area",)),
        )

    def _bus(self, name: str, table: BusTable) -> Bus:
        match table:
            case TcpTable():
                return ModbusTcpBus(
                    name=name,
                    host=table.host,
                    port=table.port,
                    timeout_s=table.timeout,
                    max_gap=table.max_gap,
                    units=self._units(name, table),
                )
            case RtuTable():
                return self._rtu(name, table)
            case LineTable():
                return self._line(name, table)
            case OwnDriverTable():
                file = str(self._folder / table.file)
                return OwnDriverBus(name=name, file=file, path=table.path, timeout_s=table.timeout)
            case ReplayTable():
                file = str(self._folder / table.file)
                return ReplayBus(name=name, file=file, time_column=table.time_column)

    def _check_path(self, name: str, table: RtuTable | LineTable) -> None:
        """Refuse a URL that nothing here can open."""
        protocol, is_url, _ = table.path.partition("://")
        if not is_url:
            return
        if isinstance(table, RtuTable):
            message = (
                'a serial port is needed; a URL serves lines of text (kind = "serial-line"), a converter '
                'that speaks Modbus TCP is kind = "modbus-tcp"'
            )
            raise self._document.error(("bus", name, "path"), message)
        if protocol not in _PROTOCOLS:
            message = f'unknown protocol "{protocol}"{nearest(protocol, list(_PROTOCOLS))}'
            raise self._document.error(("bus", name, "path"), message)

    def _rtu(self, name: str, table: RtuTable) -> ModbusRtuBus:
        self._check_path(name, table)
        self._check_timeout(("bus", name), table.timeout, table.worst_latency)
        return ModbusRtuBus(
            name=name,
            path=table.path,
            baudrate=table.baudrate,
            parity=table.parity,
            stop_bits=table.stop_bits,
            timeout_s=table.timeout,
            worst_latency_s=table.worst_latency,
            pause_s=table.pause,
            max_gap=table.max_gap,
            units=self._units(name, table),
        )

    def _units(self, name: str, table: TcpTable | RtuTable) -> tuple[UnitTiming, ...]:
        """Return the devices with timings of their own; what one leaves out is its bus's."""
        return tuple(
            self._unit(("bus", name, "unit", key), key, {**_timings(table), **_timings(unit)})
            for key, unit in table.unit.items()
        )

    def _unit(self, place: Place, key: str, timings: dict[str, float]) -> UnitTiming:
        if not key.isdecimal() or int(key) > LARGEST_UNIT_ID:
            raise self._document.error(place, f"a unit id from 0 to {LARGEST_UNIT_ID} is needed")
        timing = UnitTiming(
            unit_id=int(key),
            timeout_s=timings["timeout"],
            worst_latency_s=timings.get("worst_latency", 0.0),
            pause_s=timings.get("pause", 0.0),
        )
        self._check_timeout(place, timing.timeout_s, timing.worst_latency_s)
        return timing

    def _check_timeout(self, place: Place, timeout_s: float, worst_latency_s: float) -> None:
        if timeout_s < worst_latency_s:
            message = f"{timeout_s:g} s is shorter than worst_latency, {worst_latency_s:g} s"
            raise self._document.error((*place, "timeout"), message)

    def _line(self, name: str, table: LineTable) -> SerialLineBus:
        place = ("bus", name, "pattern")
        self._check_path(name, table)
        try:
            groups = re.compile(table.pattern).groupindex
        except re.error as error:
            raise self._document.error(place, f"is not a regular expression: {error}") from None
        if not groups:
            raise self._document.error(place, "has no named group; write (?P<pressure>...) around each value")
        return SerialLineBus(
            name=name,
            path=table.path,
            pattern=table.pattern,
            baudrate=table.baudrate,
            parity=table.parity,
            stop_bits=table.stop_bits,
            data_bits=table.data_bits,
            encoding=table.encoding,
            line_start=table.line_start,
            line_end=table.line_end,
            checksum=table.checksum,
            checksum_mark=table.checksum_mark,
            poll_request=table.poll_request,
            timeout_s=table.timeout,
        )


def _timings(table: TcpTable | RtuTable | TcpUnitTable | RtuUnitTable) -> dict[str, float]:
    keys = ("timeout", "worst_latency", "pause")
    return {key: value for key in keys if (value := getattr(table, key, None)) is not None}
