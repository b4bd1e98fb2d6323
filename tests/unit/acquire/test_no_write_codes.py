"""Nothing in the recorder can put a value into a device."""

import ast
from pathlib import Path

import pytest

import logger
from logger.acquire.rtu_frame import FUNCTION_OF
from logger.domain.bus import Table

SOURCES = sorted(Path(logger.__file__).parent.rglob("*.py"))
ACQUIRE = [path for path in SOURCES if path.parent.name == "acquire"]
PYMODBUS_CALLS = {
    "AsyncModbusTcpClient",
    "read_coils",
    "read_discrete_inputs",
    "read_holding_registers",
    "read_input_registers",
}
WRITE_WORDS = ("write_coil", "write_register", "mask_write", "write_file", "writemultiple", "writesingle")


def names_of(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Name):
            names.add(node.id)
        elif isinstance(node, ast.Attribute):
            names.add(node.attr)
        elif isinstance(node, ast.alias):
            names.add(node.name)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            names.add(node.value)
    return names


def test_the_tree_was_found():
    assert len(ACQUIRE) > 8


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(SOURCES[0].parent)))
def test_no_write_function_is_named(path):
    lowered = {name.lower().replace("_", "") for name in names_of(path)}
    for word in WRITE_WORDS:
        assert not any(word.replace("_", "") in name for name in lowered), word


def test_the_only_function_codes_are_the_four_reads():
    assert FUNCTION_OF == {Table.COIL: 1, Table.DISCRETE: 2, Table.HOLDING: 3, Table.INPUT: 4}


def test_the_modbus_library_is_asked_to_read_and_nothing_else():
    """No raw request, no custom code, no attribute built at run time where the library is used."""
    (module,) = [path for path in ACQUIRE if path.name == "modbus.py"]
    names = names_of(module)
    assert names >= PYMODBUS_CALLS
    assert names.isdisjoint({"execute", "register", "pdu_send", "setattr", "__import__", "import_module"})
    reads = {name for name in PYMODBUS_CALLS if name.startswith("read_")}
    assert {name for name in names if name.startswith("read_")} == reads


def test_only_two_places_send_bytes():
    """The RTU master sends what `Question.frame` built, a text device the line it is asked with."""
    senders = {path.name for path in ACQUIRE if names_of(path) & {"write", "sendall", "sendto"}}
    assert senders == {"serial_port.py", "line_link.py"}
