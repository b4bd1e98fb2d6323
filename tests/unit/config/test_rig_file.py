"""RIG.toml: buses, channels, scalings, and one located line for everything that is wrong."""

from importlib import resources
from pathlib import Path

import pytest

from logger.acquire.decode import count_of_text
from logger.config.rig_file import load_rig, rig_of
from logger.config.rtu_budget import request_time_s
from logger.domain.bus import LineField, ModbusPoint, ModbusRtuBus, Parity, ReplayBus, ReplayField, Table
from logger.domain.channel import DataType, Quantity, WordOrder
from logger.domain.rig import GaugeSide, HydraulicLag, Origin
from logger.errors import InputError
from logger.phases.levels import hints_of

TEXT = """\
name = "rig-7"
cylinder_area = "6.29 cm2"
gauge_side = "line"

[bus.main]
kind = "modbus-rtu"
path = "/dev/ttyUSB0"
baudrate = 19200

[channel.pressure]
bus = "main"
unit_id = 1
table = "input"
address = 0
type = "int16"
scale = { raw = [6400, 32000], value = ["0 bar", "250 bar"] }
rate = "10 Hz"
valid = ["-1 bar", "255 bar"]
uncertainty = "0.5 bar"

[channel.pressure.sensor]
serial = "PT-1"
calibrated = 2026-02-10
calibration_due = 2027-02-10
"""


def changed(*changes: tuple[str, str]) -> str:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def test_the_plain_file() -> None:
    installation = rig_of(TEXT)
    rig, (binding,) = installation.rig, installation.bindings
    assert (rig.name, rig.piston_area_mm2, rig.gauge_side, rig.origin) == (
        "rig-7",
        629.0,
        GaugeSide.LINE,
        Origin.LIVE,
    )
    assert binding.point == ModbusPoint(unit_id=1, table=Table.INPUT, address=0)
    channel = binding.channel
    assert channel.scaling.data_type is DataType.INT16
    assert channel.scaling.value_of(6400) == pytest.approx(0.0, abs=1e-9)
    assert channel.scaling.value_of(32000) == pytest.approx(250.0)
    assert (channel.valid_min, channel.valid_max, channel.standard_uncertainty) == (-1.0, 255.0, 0.5)
    assert channel.resolution == pytest.approx(250 / 25600)
    assert (channel.sensor_serial, channel.calibrated_on) == ("PT-1", "2026-02-10")
    assert rig.channels == (channel,)


def test_a_scale_in_psi_becomes_bar() -> None:
    (binding,) = rig_of(changed(('"0 bar", "250 bar"', '"0 psi", "1000 psi"'))).bindings
    assert binding.channel.scaling.value_of(32000) == pytest.approx(68.947573, abs=1e-6)


def test_gain_and_offset() -> None:
    (binding,) = rig_of(
        changed(
            (
                'scale = { raw = [6400, 32000], value = ["0 bar", "250 bar"] }',
                'gain = "0.1 bar"\noffset = "-2 bar"',
            )
        )
    ).bindings
    assert binding.channel.scaling.value_of(50) == pytest.approx(3.0)


def test_a_temperature_step_in_degf_has_no_zero_point() -> None:
    installation = rig_of(
        TEXT
        + '[channel.plate_temperature]\nbus = "main"\nunit_id = 2\ntable = "holding"\naddress = 4\n'
        + 'type = "int16"\ngain = "0.1 degF"\noffset = "0 degF"\nuncertainty = "1.8 degF"\n'
    )
    channel = installation.bindings[1].channel
    assert channel.scaling.value_of(4280) == pytest.approx(220.0, abs=1e-6)
    assert channel.standard_uncertainty == pytest.approx(1.0)


def test_bore_rod_and_count_give_the_area() -> None:
    rig = rig_of(
        changed(('cylinder_area = "6.29 cm2"\n', ""))
        + '[cylinders]\nbore = "50 mm"\nrod = "40 mm"\ncount = 2\n'
    ).rig
    assert rig.piston_area_mm2 == pytest.approx(1413.717, abs=0.001)


def test_text_line_and_replay(tmp_path: Path) -> None:
    line = rig_of(
        'name = "r"\n[bus.l]\nkind = "serial-line"\npath = "/dev/ttyS0"\npattern = \'P=(?P<p>\\S+)\'\n'
        '[channel.pressure]\nbus = "l"\nfield = "p"\ngain = "0.01 bar"\n'
    )
    assert line.bindings[0].point == LineField(group="p")
    assert line.bindings[0].channel.scaling.data_type is DataType.COUNT
    replay = rig_of(
        'name = "r"\n[bus.r]\nkind = "replay"\nfile = "a.csv"\n'
        '[channel.pressure]\nbus = "r"\nfield = "pressure_bar"\n',
        folder=tmp_path,
    )
    assert replay.buses == (ReplayBus(name="r", file=str(tmp_path / "a.csv")),)
    assert replay.bindings[0].point == ReplayField(column="pressure_bar")
    assert replay.rig.origin is Origin.REPLAY


def test_a_scale_says_what_the_number_in_a_text_means() -> None:
    """A device that sends psi: 100 of it are 6.89476 bar, counted in steps of 0.01 bar."""
    line = (
        'name = "r"\n[bus.l]\nkind = "serial-line"\npath = "/dev/ttyS0"\npattern = \'P=(?P<p>\\S+)\'\n'
        '[channel.pressure]\nbus = "l"\nfield = "p"\ngain = "0.01 bar"\n'
        'scale = { raw = [0, 100], value = ["0 psi", "100 psi"] }\n'
    )
    (binding,) = rig_of(line).bindings
    assert isinstance(binding.point, LineField)
    assert binding.point.meaning.value_at(100.0) == pytest.approx(6.89476, abs=1e-5)
    count = count_of_text("100.0", binding.point.meaning, binding.channel.scaling)
    assert count == 689
    assert binding.channel.scaling.value_of(count) == pytest.approx(6.89)
    flat = line.replace('"100 psi"', '"0 psi"')
    with pytest.raises(InputError, match="scale: the two values are the same"):
        rig_of(flat)


def test_the_example_is_read() -> None:
    with resources.as_file(resources.files("configs") / "examples" / "rig.toml") as path:
        installation = load_rig(path)
    assert [binding.channel.quantity for binding in installation.bindings] == list(Quantity)[:4]
    assert installation.bindings[1].channel.scaling.word_order is WordOrder.CDAB


WRONG = [
    (("baudrate =", "boudrate ="), "rig.toml:8: [bus.main] boudrate: unknown key; did you mean baudrate?"),
    (
        ('"modbus-rtu"', '"modbus"'),
        "rig.toml:6: [bus.main] kind: must be one of modbus-tcp, modbus-rtu, serial-line, replay, "
        "own-driver, given 'modbus'; nearest: modbus-tcp, modbus-rtu",
    ),
    (
        ("baudrate = 19200", 'parity = "e"'),
        "rig.toml:8: [bus.main] parity: input should be 'N', 'E' or 'O', given 'e'; nearest: E",
    ),
    (
        ('type = "int16"', 'type = "flaot32"'),
        "rig.toml:15: [channel.pressure] type: input should be 'uint16', 'int16', 'uint32', 'int32', "
        "'uint64', 'int64', 'float32', 'float64' or 'count', given 'flaot32'; nearest: float32, float64",
    ),
    (
        ("= 2027-02-10", '= "soon"'),
        "rig.toml:24: [channel.pressure.sensor] calibration_due: a date like 2027-02-10 is needed, without "
        "quotes, given 'soon'",
    ),
    (
        ('"255 bar"]', '"255 bar", "256 bar"]'),
        "rig.toml:18: [channel.pressure] valid: has more than 2 entries, "
        "given ['-1 bar', '255 bar', '256 bar']",
    ),
    (
        ('"250 bar"]', '"250 Baar"]'),
        'rig.toml:16: [channel.pressure] scale: "250 Baar" has a unit that is not known; '
        'a pressure like "250 bar" is needed',
    ),
    (
        ('gauge_side = "line"', 'gauge_side = "line"\naccumulator = "no"'),
        "rig.toml:4: accumulator: input should be a valid boolean, given 'no'",
    ),
    (
        ("raw = [6400", 'raw = ["6400"'),
        "rig.toml:16: [channel.pressure.scale.raw] entry 1: input should be a valid number, given '6400'",
    ),
    (
        ("[bus.main]", "[[bus.main]]"),
        "rig.toml:5: [bus] main: a table is needed here, with keys of its own",
    ),
    (
        ("[channel.pressure.sensor]", "[channel.pressure]"),
        "rig.toml:21: [channel] pressure: stands twice; leave one out",
    ),
    (
        ("baudrate = 19200", "baudrate = 19200\nbaudrate = 9600"),
        "rig.toml:9: [bus.main] baudrate: stands twice; leave one out",
    ),
    (
        ("/dev/ttyUSB0", "socket://192.0.2.7:4001"),
        "rig.toml:7: [bus.main] path: a serial port is needed; a URL serves lines of text "
        '(kind = "serial-line"), a converter that speaks Modbus TCP is kind = "modbus-tcp"',
    ),
    (('path = "/dev/ttyUSB0"\n', ""), "rig.toml:5: [bus.main] path: required key is missing"),
    (
        ('bus = "main"', 'bus = "man"'),
        'rig.toml:11: [channel.pressure] bus: unknown bus "man"; nearest: main',
    ),
    (
        ("unit_id = 1\n", ""),
        "rig.toml:10: [channel.pressure] unit_id: required key is missing for modbus-rtu",
    ),
    (
        ("unit_id = 1", 'unit_id = 1\nfield = "p"'),
        "rig.toml:13: [channel.pressure] field: does not belong to a channel on modbus-rtu",
    ),
    (
        ('type = "int16"\n', ""),
        'rig.toml:10: [channel.pressure] type: a register type is needed, like "int16" or "float32"',
    ),
    (
        ('"250 bar"]', '"250 degC"]'),
        'rig.toml:16: [channel.pressure] scale: "250 degC" is a temperature; '
        'a pressure like "250 bar" is needed',
    ),
    (
        ("[6400, 32000]", "[6400, 6400]"),
        "rig.toml:16: [channel.pressure] scale: the two raw numbers are the same",
    ),
    (
        ('rate = "10', 'gain = "1 bar"\nrate = "10'),
        "rig.toml:16: [channel.pressure] scale: gain is given too; leave one out",
    ),
    (
        ('"255 bar"]', '"-2 bar"]'),
        "rig.toml:18: [channel.pressure] valid: must run from the least value to the greatest",
    ),
    (('"0.5 bar"', '"-0.5 bar"'), "rig.toml:19: [channel.pressure] uncertainty: cannot be negative"),
    (
        ("= 2027-02-10", "= 2025-02-10"),
        "rig.toml:24: [channel.pressure.sensor] calibration_due: is not after the calibration date",
    ),
    (
        ('"line"', '"open"'),
        "rig.toml:3: gauge_side: input should be 'line', 'closing' or 'unknown', given 'open'",
    ),
    (
        ("[channel.pressure]", "[channel.carriage]"),
        "rig.toml:21: [channel.pressure] bus: required key is missing",
    ),
    (
        ("baudrate = 19200", 'baudrate = 19200\ntimeout = "0.1 s"'),
        "rig.toml:9: [bus.main] timeout: 0.1 s is shorter than worst_latency, 0.2 s",
    ),
    (
        ('gauge_side = "line"', '[cylinders]\nbore = "50 mm"\nrod = "40 mm"\ncount = 2'),
        "rig.toml:2: cylinder_area: "
        "629.0 mm2 differs from the 1413.7 mm2 of bore, rod and number; correct one",
    ),
]


@pytest.mark.parametrize(("change", "line"), WRONG)
def test_bad_input_names_file_line_key_and_choice(change: tuple[str, str], line: str) -> None:
    with pytest.raises(InputError) as wrong:
        rig_of(changed(change), "rig.toml")
    assert str(wrong.value) == line


def test_rates_that_the_line_cannot_carry_are_refused_with_the_arithmetic() -> None:
    """9600 Bd 8E1, 4 registers: 32.1 ms by the formula, so 50 a second need 1.60 s of every second."""
    text = changed(("19200", "9600"), ('"10 Hz"', '"50 Hz"'), ('"int16"', '"int64"'))
    with pytest.raises(InputError) as refused:
        rig_of(text, "rig.toml")
    assert str(refused.value) == (
        "rig.toml:5: [bus] main: 9600 Bd 8E1 cannot carry this: "
        "50/s of 4 registers x 32.1 ms = 1.60 s of bus time in each second"
        "; rates 1.61 times lower would fit, or 19200 Bd where the devices can be set to it"
    )
    assert rig_of(text.replace("9600", "19200")).bindings
    assert rig_of(text.replace("50 Hz", f"{50 / 1.61} Hz")).bindings


@pytest.mark.parametrize(("rate", "fits"), [("31 Hz", True), ("32 Hz", False)])
def test_the_ceiling_is_that_of_the_formula(rate: str, fits: bool) -> None:
    text = changed(("19200", "9600"), ('"10 Hz"', f'"{rate}"'), ('"int16"', '"int64"'))
    if fits:
        assert rig_of(text).bindings[0].channel.rate_hz == float(rate.split()[0])
    else:
        with pytest.raises(InputError, match="cannot carry this"):
            rig_of(text)


@pytest.mark.parametrize(
    ("baudrate", "parity", "polls_per_s"),
    [
        (9600, Parity.NONE, 33.4),
        (9600, Parity.EVEN, 31.2),
        (19200, Parity.NONE, 66.9),
        (19200, Parity.EVEN, 62.3),
        (38400, Parity.NONE, 111),
        (38400, Parity.EVEN, 105),
        (115200, Parity.NONE, 188),
        (115200, Parity.EVEN, 182),
    ],
)
def test_time_of_one_request(baudrate: int, parity: Parity, polls_per_s: float) -> None:
    """One read of 4 registers, worked by hand from the character time and the silences of the standard."""
    bus = ModbusRtuBus(name="b", path="p", baudrate=baudrate, parity=parity)
    assert 1 / request_time_s(bus, 8) == pytest.approx(polls_per_s, rel=0.005)


def test_relief_and_span() -> None:
    rig = rig_of(changed(('gauge_side = "line"', 'relief_pressure = "16 MPa"'))).rig
    assert (rig.relief_pressure_bar, rig.gauge_span_bar) == (160.0, 250.0)
    rig = rig_of(changed(('gauge_side = "line"', 'gauge_span = "100 bar"'))).rig
    assert (rig.relief_pressure_bar, rig.gauge_span_bar) == (None, 100.0)


@pytest.mark.parametrize(("side", "area"), [("rod", 1413.717), ("bore", 3926.991)])
def test_the_pressurised_side(side: str, area: float) -> None:
    cylinders = f'[cylinders]\nbore = "50 mm"\nrod = "40 mm"\ncount = 2\npressurised = "{side}"\n'
    rig = rig_of(changed(('cylinder_area = "6.29 cm2"\n', "")) + cylinders).rig
    assert rig.piston_area_mm2 == pytest.approx(area, abs=0.001)


def test_a_commissioned_lag_is_kept_with_its_uncertainty_and_date():
    table = '[commissioning]\nhydraulic_lag = "210 ms"\nhydraulic_lag_uncertainty = "0.05 s"\n'
    table += "measured = 2026-03-02\n"
    rig = rig_of(changed(("[bus.main]", f"{table}\n[bus.main]"))).rig
    assert rig.commissioned_lag == HydraulicLag(lag_s=0.21, u_s=0.05, measured_on="2026-03-02")
    assert hints_of(None, rig).commissioned_lag == rig.commissioned_lag
    assert rig_of(TEXT).rig.commissioned_lag is None


def test_a_commissioned_lag_without_its_uncertainty_is_refused():
    table = '[commissioning]\nhydraulic_lag = "0.2 s"\nmeasured = 2026-03-02\n'
    with pytest.raises(InputError, match="hydraulic_lag_uncertainty"):
        rig_of(changed(("[bus.main]", f"{table}\n[bus.main]")))


SECOND = '[channel.carriage]\nbus = "main"\nunit_id = 1\ntable = "input"\naddress = {}\ntype = "{}"\n'
SHARED = "rig.toml:29: [channel.carriage] address: input {} of unit 1 is read by [channel.pressure] already; "


def test_registers_that_two_channels_read_are_refused() -> None:
    wide = changed(('type = "int16"', 'type = "int32"'))
    for text, line in (
        (TEXT + SECOND.format(0, "int16"), SHARED.format(0) + "the next behind it is 1"),
        (
            TEXT.replace("address = 0", "address = 1") + SECOND.format(0, "int32"),
            SHARED.format(1) + "the next behind it is 2",
        ),
        (wide + SECOND.format(1, "int16"), SHARED.format(1) + "the next behind it is 2"),
    ):
        with pytest.raises(InputError) as wrong:
            rig_of(text, "rig.toml")
        assert str(wrong.value) == line
    assert len(rig_of(TEXT + SECOND.format(1, "int16")).bindings) == 2
    assert len(rig_of(wide + SECOND.format(2, "int16")).bindings) == 2


def test_a_point_of_a_device_that_two_channels_read_is_refused() -> None:
    device = 'device = "counter"\npoint = "position"\n'
    text = changed(('table = "input"\naddress = 0\ntype = "int16"\n', device))
    text += f'[channel.carriage]\nbus = "main"\nunit_id = 1\n{device}'
    with pytest.raises(
        InputError, match=r"rig.toml:28: \[channel.carriage\] point: input 0 of unit 1 is read"
    ):
        rig_of(text, "rig.toml")


def test_two_fields_of_one_register_are_meant_as_long_as_no_bit_is_in_both() -> None:
    text = changed(('type = "int16"', 'type = "uint16"\nbits = [0, 11]'))
    assert len(rig_of(text + SECOND.format(0, "uint16") + "bits = [12, 15]\n").bindings) == 2
    with pytest.raises(InputError, match="is read by"):
        rig_of(text + SECOND.format(0, "uint16") + "bits = [11, 15]\n")
