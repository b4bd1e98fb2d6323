"""Which driver serves which kind of bus: one explicit table, each imported when a rig has such a bus."""

from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any

from logger.acquire.driver import Driver
from logger.acquire.grouping import Request
from logger.domain.bus import Bus, ModbusRtuBus, ModbusTcpBus, OwnDriverBus, ReplayBus, SerialLineBus
from logger.domain.clock import Clock

DriverFactory = Callable[[Any, Sequence[Request], Clock], Driver]

# The Modbus library alone takes 2.6 MB, of which a rig without TCP has no use.
DRIVERS: dict[type[Bus], tuple[str, str]] = {
    ModbusTcpBus: ("modbus", "ModbusTcpDriver"),
    ModbusRtuBus: ("modbus_rtu", "ModbusRtuDriver"),
    SerialLineBus: ("serial_line", "SerialLineDriver"),
    ReplayBus: ("replay_file", "ReplayDriver"),
    OwnDriverBus: ("own_driver", "OwnDriver"),
}
"""By kind of bus the module in this room and its class."""


def driver_of(bus: Bus, requests: Sequence[Request], clock: Clock) -> Driver:
    """Return the driver of `bus`, not yet opened. Raises InputError where it cannot serve the requests."""
    module, name = DRIVERS[type(bus)]
    factory: DriverFactory = getattr(import_module(f"logger.acquire.{module}"), name)
    return factory(bus, requests, clock)
