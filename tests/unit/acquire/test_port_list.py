"""Serial ports with the names that stay: adapters as the system shows them, in folders of our own."""

from types import SimpleNamespace

import pytest

from logger.acquire import port_list
from logger.domain.serial_ports import PortHint
from logger.wording.integrator_text import port_lines


@pytest.fixture
def machine(tmp_path, monkeypatch):
    """A built-in port, an adapter with a number, two without one, and one that has no link at all."""
    for folder in ("dev", "by-id", "by-path", "sys"):
        (tmp_path / folder).mkdir()
    ports = []
    for name, serial_number in (
        ("ttyS0", None), ("ttyUSB0", "A17"), ("ttyUSB1", None), ("ttyUSB2", None), ("ttyUSB3", "B2"),
    ):  # fmt: skip
        device = tmp_path / "dev" / name
        device.touch()
        ports.append(
            SimpleNamespace(device=str(device), serial_number=serial_number, manufacturer="M", product="P")
        )
    (tmp_path / "by-id" / "usb-A17").symlink_to(tmp_path / "dev" / "ttyUSB0")
    (tmp_path / "by-id" / "usb-none").symlink_to(tmp_path / "dev" / "ttyUSB2")
    for number in range(3):
        (tmp_path / "by-path" / f"socket-{number}").symlink_to(tmp_path / "dev" / f"ttyUSB{number}")
    timer = tmp_path / "sys" / "ttyUSB0"
    timer.mkdir()
    (timer / "latency_timer").write_text("16\n")
    monkeypatch.setattr(port_list.list_ports, "comports", lambda: ports)
    return tmp_path


def listed(machine):
    found = port_list.serial_ports(machine / "by-id", machine / "by-path", machine / "sys")
    return {port.path.rsplit("/", 1)[-1]: port for port in found}


def test_the_name_that_stays_is_offered(machine) -> None:
    ports = listed(machine)
    names = {name: port.stable_path.rsplit("/", 1)[-1] for name, port in ports.items()}
    assert names == {
        "ttyS0": "ttyS0",
        "ttyUSB0": "usb-A17",
        "ttyUSB1": "socket-1",
        "ttyUSB2": "socket-2",
        "ttyUSB3": "ttyUSB3",
    }


def test_each_port_has_its_hints(machine) -> None:
    hints = {name: set(port.hints) for name, port in listed(machine).items()}
    assert hints["ttyS0"] == {PortHint.BUILT_IN}
    assert hints["ttyUSB0"] == {PortHint.SLOW_ADAPTER}
    assert hints["ttyUSB1"] == hints["ttyUSB2"] == {PortHint.BY_SOCKET}
    assert hints["ttyUSB3"] == {PortHint.NAME_MAY_CHANGE}
    text = "\n".join(port_lines(list(listed(machine).values())))
    assert "holds bytes back for 16 ms" in text
    assert "serial number A17" in text


def test_a_machine_without_ports_says_so(monkeypatch) -> None:
    monkeypatch.setattr(port_list.list_ports, "comports", list)
    assert "no serial port" in port_lines(port_list.serial_ports())[0]
