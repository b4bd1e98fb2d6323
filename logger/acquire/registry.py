"""Which driver serves which kind of bus: one explicit table."""

from collections.abc import Callable, Sequence
from typing import Any

from logger.acquire.driver import Driver
from logger.acquire.grouping import Request
from logger.acquire.modbus import ModbusTcpDriver
from logger.acquire.modbus_rtu import ModbusRtuDriver
from logger.acquire.replay_file import ReplayDriver
from logger.acquire.serial_line import SerialLineDriver
from logger.domain.bus import Bus, ModbusRtuBus, ModbusTcpBus, ReplayBus, SerialLineBus
from logger.domain.clock import Clock

DriverFactory = Callable[[Any, Sequence[Request], Clock], Driver]

DRIVERS: dict[type[Bus], DriverFactory] = {
    ModbusTcpBus: ModbusTcpDriver,
    ModbusRtuBus: ModbusRtuDriver,
    SerialLineBus: SerialLineDriver,
    ReplayBus: ReplayDriver,
}


def driver_of(bus: Bus, requests: Sequence[Request], clock: Clock) -> Driver:
    """Return the driver of `bus`, not yet opened. Raises InputError where it cannot serve the requests."""
    return DRIVERS[type(bus)](bus, requests, clock)
