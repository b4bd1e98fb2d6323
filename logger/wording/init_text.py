"""The questions of `init`, in their order."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

Answers = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Question:
    """One question; no `choices` means free text, `is_asked` whether it means anything after those before."""

    key: str
    text: str
    default: str = ""
    choices: tuple[str, ...] = ()
    is_asked: Callable[[Answers], bool] = lambda _answers: True


_YES_NO = ("yes", "no")


def _of_kind(*kinds: str) -> Callable[[Answers], bool]:
    return lambda answers: answers["kind"] in kinds


def questions() -> tuple[Question, ...]:
    return (*_RIG, *_BUS, *(q for name in _CHANNELS for q in _channel(*name)))


_RIG = (
    Question("name", "Name of the rig", "rig-1"),
    Question("serial", "Serial of the carriage"),
    Question("power_pack_serial", "Serial of the power pack; one may serve two carriages"),
    Question(
        "cylinder_area", 'Piston area on the machine\'s plate, like "6.29 cm2" (empty: each joint gives it)'
    ),
    Question("relief_pressure", 'Setting of the relief valve, like "160 bar"'),
    Question(
        "gauge_side",
        "Where the transmitter sits: line (ahead of the valve) or closing (at the cylinders)",
        "unknown",
        ("line", "closing", "unknown"),
    ),
    Question(
        "check_valve",
        "Can anything part it from the cylinders in cooling (check valve, couplings)?",
        "",
        _YES_NO,
    ),
    Question("accumulator", "Is there an accumulator? Relieve it before you open a fitting", "", _YES_NO),
    Question("origin", "Origin of its samples", "live", ("live", "simulated")),
)
_BUS = (
    Question("kind", "How the sensors are read", "modbus-rtu", ("modbus-rtu", "modbus-tcp", "serial-line")),
    Question(
        "path",
        "Serial port (beadwatch ports names them)",
        "/dev/ttyUSB0",
        is_asked=_of_kind("modbus-rtu", "serial-line"),
    ),
    Question("baudrate", "Baud rate", "19200", is_asked=_of_kind("modbus-rtu", "serial-line")),
    Question(
        "parity", "Parity", "E", ("E", "N", "O", "M", "S"), is_asked=_of_kind("modbus-rtu", "serial-line")
    ),
    Question("stop_bits", "Stop bits", "1", ("1", "2"), is_asked=_of_kind("modbus-rtu")),
    Question(
        "worst_latency",
        "Longest time before a device begins its answer",
        "0.2 s",
        is_asked=_of_kind("modbus-rtu"),
    ),
    Question("host", "Host", "192.0.2.10", is_asked=_of_kind("modbus-tcp")),
    Question("port", "Port", "502", is_asked=_of_kind("modbus-tcp")),
    Question("timeout", "Time-out of one answer", "0.5 s", is_asked=_of_kind("modbus-tcp")),
    Question(
        "pattern",
        "Regular expression of a line with named groups (beadwatch probe --text shows lines)",
        r"P=\s*(?P<pressure>\S+) T=\s*(?P<plate_temperature>\S+).*",
        is_asked=_of_kind("serial-line"),
    ),
    Question("poll_request", "Sent before each line (empty: it streams)", is_asked=_of_kind("serial-line")),
)
_CHANNELS = (
    ("pressure", "pressure", "0 bar, 250 bar", "-1 bar, 255 bar"),
    ("plate_temperature", "plate temperature", "0 degC, 300 degC", "-40 degC, 350 degC"),
    ("carriage", "carriage position", "0 mm, 400 mm", "-20 mm, 500 mm"),
    ("plate_in", "plate switch", "", ""),
)
_ADDRESSES = {"pressure": "0", "plate_temperature": "1", "carriage": "2", "plate_in": "0"}
_NARROW = ("", "uint16", "int16")
_TYPES = "uint16, int16, uint32, int32, uint64, int64, float32 or float64"


def _channel(name: str, what: str, span: str, valid: str) -> tuple[Question, ...]:
    def fitted(answers: Answers) -> bool:
        return name == "pressure" or answers[name] == "yes"

    def on_modbus(answers: Answers) -> bool:
        return fitted(answers) and answers["kind"] != "serial-line"

    def with_device(answers: Answers) -> bool:
        return on_modbus(answers) and bool(answers[f"{name}.device"])

    def by_hand(answers: Answers) -> bool:
        return on_modbus(answers) and not answers[f"{name}.device"]

    def is_number(answers: Answers) -> bool:
        return by_hand(answers) and answers[f"{name}.table"] not in ("coil", "discrete")

    def is_scaled(answers: Answers) -> bool:
        return bool(span) and (with_device(answers) or bool(answers.get(f"{name}.raw")))

    first = (
        ()
        if name == "pressure"
        else (Question(name, f"Is there a {what}?", "yes" if name == "plate_temperature" else "no", _YES_NO),)
    )
    of_switch = name == "plate_in"
    return (
        *first,
        Question(f"{name}.unit_id", f"Unit id of the {what}'s device", "1", is_asked=on_modbus),
        Question(
            f"{name}.device",
            "Its device file (analogue-input-8, thermocouple-input, pt100-input, counter or one of your own; "
            "empty: by hand)",
            is_asked=on_modbus,
        ),
        Question(f"{name}.point", "Point of that device", is_asked=with_device),
        Question(
            f"{name}.table",
            "Table",
            "discrete" if of_switch else "input",
            ("input", "holding", "discrete", "coil"),
            is_asked=by_hand,
        ),
        Question(f"{name}.address", "Address, from 0", _ADDRESSES[name], is_asked=by_hand),
        Question(f"{name}.type", f"Type: {_TYPES}", "uint16", is_asked=is_number),
        Question(
            f"{name}.word_order",
            "Order of bytes and words",
            "ABCD",
            ("ABCD", "CDAB", "BADC", "DCBA"),
            is_asked=lambda answers: is_number(answers) and answers[f"{name}.type"] not in _NARROW,
        ),
        Question(
            f"{name}.raw",
            "Two raw numbers, like 6400, 32000 (empty: the number is the value)",
            is_asked=lambda answers: is_number(answers) and not of_switch,
        ),
        Question(f"{name}.span", "Values at those two (empty: the device's own)", span, is_asked=is_scaled),
        Question(
            f"{name}.signal",
            "4-20 mA, if those two are 4 and 20 mA",
            "",
            ("4-20 mA",),
            is_asked=lambda answers: is_number(answers) and bool(answers.get(f"{name}.raw")),
        ),
        Question(
            f"{name}.field",
            f"Named group of the {what}",
            name,
            is_asked=lambda answers: fitted(answers) and answers["kind"] == "serial-line",
        ),
        Question(f"{name}.rate", "Samples a second", "10 Hz", is_asked=fitted),
        *(() if of_switch else _of_sensor(name, valid, fitted)),
    )


def _of_sensor(name: str, valid: str, fitted: Callable[[Answers], bool]) -> tuple[Question, ...]:
    unit = valid.rsplit(" ", 1)[-1]
    return (
        Question(f"{name}.valid", "Least and greatest value it can mean", valid, is_asked=fitted),
        Question(f"{name}.uncertainty", f'Standard uncertainty, like "0.4 {unit}"', is_asked=fitted),
        *(
            (
                Question(
                    f"{name}.tolerance_class",
                    "Or its tolerance class, like K-2 or Pt100-B",
                    is_asked=lambda answers: fitted(answers) and not answers[f"{name}.uncertainty"],
                ),
            )
            if name == "plate_temperature"
            else ()
        ),
        Question(f"{name}.serial", "Serial of the sensor", is_asked=fitted),
    )
