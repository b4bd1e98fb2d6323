"""A commented RIG.toml from a person's answers. Only text is made; `rig_file` says whether it is right."""

import json
from collections.abc import Iterator, Mapping

Answers = Mapping[str, str]
"""By question; an empty text is "leave it out"."""

_BUS_KEYS: dict[str, tuple[tuple[str, bool, str], ...]] = {
    "modbus-rtu": (
        ("path", True, "the name that stays: beadwatch ports"),
        ("baudrate", False, "as the devices are set: beadwatch scan"),
        ("parity", True, "E, O, or N with stop_bits = 2"),
        ("stop_bits", False, ""),
        ("worst_latency", True, "the longest a device takes to begin its answer"),
    ),
    "modbus-tcp": (("host", True, ""), ("port", False, ""), ("timeout", True, "for one answer")),
    "serial-line": (
        ("path", True, "a port, or socket://HOST:PORT, rfc2217://HOST:PORT"),
        ("baudrate", False, ""),
        ("parity", True, ""),
        ("pattern", True, "the whole line, a named group per channel"),
        ("poll_request", True, "sent before each line; left out where the device streams"),
    ),
}
"""Per kind: key, whether its value is text, comment."""

_CHANNEL_KEYS = (
    ("unit_id", False, ""),
    ("device", True, "a register map: configs/devices, or devices/ beside this file"),
    ("point", True, ""),
    ("table", True, "input, holding, discrete, coil"),
    ("address", False, "from 0 as on the wire; a manual that counts from 1 says one more"),
    ("type", True, "uint16 int16 uint32 int32 uint64 int64 float32 float64"),
    ("word_order", True, "ABCD, CDAB, BADC, DCBA: beadwatch probe shows which"),
    ("signal", True, "its scale ends at 4 and 20 mA: 3.6 and less is a broken wire"),
    ("field", True, ""),
    ("gain", True, "value of one count"),
    ("rate", True, ""),
    ("uncertainty", True, "standard uncertainty; without it no limit can be decided"),
)
_CHANNELS = ("pressure", "plate_temperature", "carriage", "plate_in")
_ABOUT = {
    "pressure": "gauge pressure of the carriage, drag included",
    "plate_temperature": "inside the plate",
    "carriage": "opening between the faces, 0 touching",
    "plate_in": "1 while the plate is in",
}
_COMMENT_COLUMN = 36


def rig_text(answers: Answers) -> str:
    """Return the text of a rig file."""
    return "\n".join([*_head(answers), *_bus(answers), *_channels(answers)]) + "\n"


def _head(answers: Answers) -> Iterator[str]:
    yield "# One rig and its wiring. Quantities are text with a unit. beadwatch check reads this file as the"
    yield "# recorder does; every key is explained in configs/examples/rig.toml."
    yield "format = 1"
    yield _line("name", answers["name"])
    yield from _given("serial", answers, "the carriage's")
    yield from _given("power_pack_serial", answers, "one pack may serve two carriages")
    yield from _given("cylinder_area", answers, "total effective piston area, from the machine's plate")
    yield from _given("relief_pressure", answers, "setting of the power pack's relief valve")
    yield _line("gauge_side", answers["gauge_side"], "line: ahead of the valve; closing: at the cylinders")
    for key, why in (
        ("check_valve", "something can part the gauge from the cylinders in cooling"),
        ("accumulator", "relieve it before any fitting is opened"),
    ):
        if answers[key]:
            yield _line(key, answers[key] == "yes", why)
    yield from _given("origin", answers, "")


def _bus(answers: Answers) -> Iterator[str]:
    yield ""
    yield "[bus.rig]"
    yield _line("kind", answers["kind"])
    for key, is_text, comment in _BUS_KEYS[answers["kind"]]:
        yield from _given(key, answers, comment, is_text=is_text)


def _channels(answers: Answers) -> Iterator[str]:
    for name in _CHANNELS:
        if name != "pressure" and answers[name] != "yes":
            continue
        own = {key: answers.get(f"{name}.{key}", "") for key, *_ in (*_CHANNEL_KEYS, ("raw",), ("span",))}
        yield ""
        yield f"[channel.{name}]".ljust(_COMMENT_COLUMN) + f"# {_ABOUT[name]}"
        yield _line("bus", "rig")
        for key, is_text, comment in _CHANNEL_KEYS:
            yield from _given(
                key, own, comment, is_text=is_text and not (name == "plate_in" and key == "gain")
            )
        yield from _scale(own)
        for key, comment in (("valid", "outside: kept as read and not used"),):
            if answers.get(f"{name}.{key}"):
                yield f"{key} = {_pair(answers[f'{name}.{key}'])}".ljust(_COMMENT_COLUMN) + f"# {comment}"
        yield from _sensor(name, answers)


def _scale(own: Answers) -> Iterator[str]:
    if own["device"] and own["span"]:
        yield f"span = {_pair(own['span'])}".ljust(_COMMENT_COLUMN) + "# at the ends of the point's raw range"
    elif own["raw"]:
        yield f"scale = {{ raw = [{own['raw']}], value = {_pair(own['span'])} }}"


def _sensor(name: str, answers: Answers) -> Iterator[str]:
    keys = [key for key in ("serial", "tolerance_class") if answers.get(f"{name}.{key}")]
    if keys:
        yield ""
        yield f"[channel.{name}.sensor]"
        for key in keys:
            yield _line(key, answers[f"{name}.{key}"])


def _pair(text: str) -> str:
    return json.dumps([part.strip() for part in text.split(",")], ensure_ascii=False)


def _given(key: str, answers: Answers, comment: str, *, is_text: bool = True) -> Iterator[str]:
    if answers.get(key):
        yield _line(key, answers[key], comment) if is_text else _plain(key, answers[key], comment)


def _line(key: str, value: object, comment: str = "") -> str:
    return _plain(key, json.dumps(value, ensure_ascii=False), comment)


def _plain(key: str, text: str, comment: str) -> str:
    line = f"{key} = {text}"
    return f"{line:<{_COMMENT_COLUMN - 1}} # {comment}" if comment else line
