"""`beadwatch ports`: the serial ports of this machine."""

from logger.acquire.port_list import serial_ports
from logger.cli.console import out
from logger.wording.integrator_text import port_lines


def ports() -> None:
    """List the serial ports with the names that stay, and what to know of them. Nothing is opened."""
    out(port_lines(serial_ports()))
