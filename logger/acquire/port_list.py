"""The serial ports of this machine with the names that stay; nothing is opened."""

import os
from pathlib import Path

from serial.tools import list_ports

from logger.domain.serial_ports import PortDescription, PortHint

BY_ID, BY_PATH = Path("/dev/serial/by-id"), Path("/dev/serial/by-path")
USB_SERIAL = Path("/sys/bus/usb-serial/devices")
_SLOW_MS = 2


def serial_ports(
    by_id: Path = BY_ID, by_path: Path = BY_PATH, adapters: Path = USB_SERIAL
) -> list[PortDescription]:
    """Return every serial port; pseudo terminals and network ports are not among them."""
    identities, sockets = _links(by_id), _links(by_path)
    return [
        _described(port.device, _text(port), str(port.serial_number or ""), (identities, sockets), adapters)
        for port in sorted(list_ports.comports(), key=lambda port: port.device)
    ]


def _text(port: object) -> str:
    names = (getattr(port, "manufacturer", None), getattr(port, "product", None))
    return " ".join(name for name in names if name)


def _described(
    device: str, text: str, serial_number: str, names: tuple[dict[str, str], dict[str, str]], adapters: Path
) -> PortDescription:
    identities, sockets = names
    real = os.path.realpath(device)
    stable = identities.get(real) or sockets.get(real)
    hints = []
    if Path(real).name.startswith("ttyS"):
        hints.append(PortHint.BUILT_IN)
    elif stable is None:
        hints.append(PortHint.NAME_MAY_CHANGE)
    elif real not in identities or not serial_number:
        hints.append(PortHint.BY_SOCKET)
        stable = sockets.get(real, stable)
    latency_ms = _latency_ms(adapters / Path(real).name / "latency_timer")
    if latency_ms is not None and latency_ms > _SLOW_MS:
        hints.append(PortHint.SLOW_ADAPTER)
    if not os.access(device, os.R_OK | os.W_OK):
        hints.append(PortHint.NO_PERMISSION)
    return PortDescription(
        path=device,
        stable_path=stable or device,
        description=text,
        serial_number=serial_number,
        latency_ms=latency_ms,
        hints=tuple(hints),
    )


def _links(folder: Path) -> dict[str, str]:
    """Return real device to stable name; two adapters that claim one identity leave only one link."""
    if not folder.is_dir():
        return {}
    return {os.path.realpath(link): str(link) for link in sorted(folder.iterdir())}


def _latency_ms(file: Path) -> int | None:
    try:
        return int(file.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None
