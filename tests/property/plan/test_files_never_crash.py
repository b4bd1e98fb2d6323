"""Whatever stands in a joint, rig or procedure file, the answer is a value or one InputError line."""

from collections.abc import Callable
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.config.joint_file import joint_of
from logger.config.procedures import procedure_of
from logger.config.rig_file import rig_of
from logger.errors import InputError

CONFIGS = resources.files("configs")
FILES = {
    "joint": ((CONFIGS / "examples" / "joint.toml").read_text(encoding="utf-8"), joint_of),
    "rig": ((CONFIGS / "examples" / "rig.toml").read_text(encoding="utf-8"), rig_of),
    "dvs": ((CONFIGS / "procedures" / "dvs-2207-1-2015.toml").read_text(encoding="utf-8"), procedure_of),
    "wis": ((CONFIGS / "procedures" / "wis-4-32-08.toml").read_text(encoding="utf-8"), procedure_of),
}
VALUES = [
    "", "1", "-1", "0", "1e400", "nan", "true", '""', '"x"', '"12 bar"', '"180 mm"', '"-5 degC"', "[]",
    "[1, 2]",
    "{}", "{ a = 1 }", "2026-02-10", '"not_given"', '"when(wall < 3, not_given, 1)"', '"1/(wall-wall)"',
    "[[1]]",
    '"guide.bead_mm"', '["1 bar", "2 bar"]', '{ raw = [1, 2], value = ["1 bar", "2 bar"] }',
]  # fmt: skip


@pytest.mark.parametrize("kind", FILES)
@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_a_changed_line_gives_a_value_or_one_line(kind: str, data: st.DataObject) -> None:
    text, read = FILES[kind]
    lines = text.splitlines()
    at = data.draw(st.integers(0, len(lines) - 1))
    how = data.draw(st.sampled_from(["drop", "twice", "value", "key", "cut"]))
    key, equals, _ = lines[at].partition("=")
    if how == "drop":
        del lines[at]
    elif how == "twice":
        lines.insert(at, lines[at])
    elif how == "value" and equals:
        lines[at] = f"{key}= {data.draw(st.sampled_from(VALUES))}"
    elif how == "key" and equals:
        lines[at] = f"{key.strip()}x = {data.draw(st.sampled_from(VALUES))}"
    else:
        lines[at] = lines[at][: data.draw(st.integers(0, len(lines[at])))]
    said = message_of(read, "\n".join(lines))
    assert said is None or (said.startswith("file.toml") and "\n" not in said)


@pytest.mark.parametrize("kind", ["joint", "rig", "wis"])
def test_every_value_on_every_line_is_read_or_refused_with_its_line(kind: str) -> None:
    text, read = FILES[kind]
    lines = text.splitlines()
    for at, line in enumerate(lines):
        key, equals, _ = line.partition("=")
        for value in VALUES if equals else ():
            said = message_of(read, "\n".join([*lines[:at], f"{key}= {value}", *lines[at + 1 :]]))
            assert said is None or said.startswith("file.toml:"), (line, value)


def message_of(read: Callable[[str, str], object], text: str) -> str | None:
    try:
        read(text, "file.toml")
    except InputError as error:
        return str(error)
    return None
