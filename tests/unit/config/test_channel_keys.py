"""Bits, polynomials, 4-20 mA, device files, plausibility, units of a bus and framed lines in RIG.toml."""

from pathlib import Path

import pytest

from logger.config.device_file import device_of, known_devices
from logger.config.rig_file import recorded_rig_of, rig_of, whole_text
from logger.domain.bus import Checksum, ModbusPoint, ModbusRtuBus, SerialLineBus, Table
from logger.domain.channel import CurrentLoop, DataType, Quantity, WordOrder
from logger.errors import InputError

BUS = 'name = "r"\n[bus.b]\nkind = "modbus-rtu"\npath = "/dev/ttyUSB0"\n'
PLACE = 'bus = "b"\nunit_id = 2\n'
IN_REGISTER = PLACE + 'table = "input"\naddress = 4\n'
IN_ANOTHER = PLACE + 'table = "input"\naddress = 5\n'


def channel_of(keys: str, *, more: str = ""):
    (binding, *_) = rig_of(f"{BUS}[channel.pressure]\n{keys}{more}", "rig.toml").bindings
    return binding.channel


def refusal_of(keys: str) -> str:
    with pytest.raises(InputError) as refused:
        channel_of(keys)
    return str(refused.value)


def test_a_bit_field_is_cut_out_of_its_register() -> None:
    """0xA5F0: bits 4 to 11 are 0x5F, 95; as a signed field bits 8 to 15 are 0xA5, -91."""
    whole = channel_of(IN_REGISTER + 'type = "uint16"\nbits = [4, 11]\ngain = "1 bar"\n')
    assert whole.scaling.value_of(0xA5F0) == 95.0
    signed = channel_of(IN_REGISTER + 'type = "int16"\nbits = [8, 15]\ngain = "1 bar"\n')
    assert signed.scaling.value_of(0xA5F0) == -91.0


def test_bits_outside_the_register_are_refused() -> None:
    keys = IN_REGISTER + 'type = "uint16"\ngain = "1 bar"\nbits = '
    wanted = "rig.toml:12: [channel.pressure] bits: must run from the lowest to the highest within 0 to 15"
    assert refusal_of(keys + "[4, 16]\n") == wanted
    assert refusal_of(keys + "[9, 4]\n") == wanted
    floats = IN_REGISTER + 'type = "float32"\nbits = [0, 3]\n'
    assert refusal_of(floats).endswith("bits: an integer type is needed, not float32")


def test_a_polynomial_bends_the_scale() -> None:
    """1 + 0.5 n + 0.01 n^2 at 20 is 15; its last step within 0 to 15 bar is from 19 to 20: 0.5 + 0.39."""
    channel = channel_of(
        IN_REGISTER
        + 'type = "uint16"\npolynomial = ["1 bar", "0.5 bar", "0.01 bar"]\nvalid = ["0 bar", "15 bar"]\n'
    )
    assert channel.scaling.value_of(20) == pytest.approx(15.0)
    straight = channel_of(IN_REGISTER + 'type = "uint16"\npolynomial = ["1 bar", "0.5 bar"]\n')
    assert (straight.scaling.value_of(20), straight.resolution) == (11.0, 0.5)


def test_the_resolution_of_a_polynomial_is_its_greatest_step_among_what_is_valid() -> None:
    """Raw numbers of 12 bits; n^2 / 4096 steps by (2 n + 1) / 4096, at most 2 where n reaches 4095."""
    channel = channel_of(
        IN_REGISTER
        + 'type = "uint16"\nbits = [0, 11]\npolynomial = ["0 bar", "0 bar", "0.000244140625 bar"]\n'
    )
    assert channel.resolution == pytest.approx(2.0, rel=1e-3)


def test_a_polynomial_in_degf_is_one_of_differences_but_for_its_constant() -> None:
    text = BUS + "[channel.pressure]\n" + IN_REGISTER + 'type = "uint16"\n[channel.plate_temperature]\n'
    text += IN_ANOTHER + 'type = "uint16"\npolynomial = ["32 degF", "1.8 degF", "0.018 degF"]\n'
    scaling = rig_of(text).bindings[1].channel.scaling
    assert scaling.value_of(10) == pytest.approx(0 + 10 + 0.01 * 100)


def test_a_loop_has_its_ends_at_4_and_20_mA() -> None:
    channel = channel_of(
        IN_REGISTER + 'type = "uint16"\nsignal = "4-20 mA"\n'
        'scale = { raw = [4000, 20000], value = ["-1 bar", "249 bar"] }\n'
    )
    assert channel.loop is not None
    assert (channel.loop.at_4_mA, channel.loop.at_20_mA) == pytest.approx((-1.0, 249.0))
    assert CurrentLoop(at_4_mA=0.0, at_20_mA=160.0).current_mA(80.0) == 12.0


def test_a_loop_needs_to_know_its_ends() -> None:
    refusal = refusal_of(IN_REGISTER + 'type = "uint16"\nsignal = "4-20 mA"\ngain = "1 bar"\n')
    assert "signal: needs scale = { raw = [...], value = [...] } at 4 and 20 mA" in refusal


def test_what_is_implausible_is_declared() -> None:
    second = "[channel.pressure_2]\n" + IN_ANOTHER + 'type = "uint16"\n'
    channel = channel_of(
        IN_REGISTER
        + 'type = "uint16"\nmax_change_per_s = "50 MPa"\nstuck_after = "1 min"\nagrees_within = "200 kPa"\n',
        more=second,
    )
    assert (channel.max_change_per_s, channel.stuck_after_s, channel.agrees_within) == (500.0, 60.0, 2.0)


def test_agreement_needs_a_second_sensor() -> None:
    refusal = refusal_of(IN_REGISTER + 'type = "uint16"\nagrees_within = "2 bar"\n')
    assert refusal.endswith("agrees_within: needs [channel.pressure_2], and there is none")


def test_a_device_file_says_where_a_point_is_and_what_it_means() -> None:
    text = BUS + "[channel.pressure]\n" + PLACE + 'device = "analogue-input-8"\npoint = "input_3"\n'
    text += 'span = ["0 bar", "160 bar"]\n[channel.plate_temperature]\n'
    text += PLACE + 'device = "thermocouple-input"\npoint = "temperature_2"\n[channel.carriage]\n'
    text += (
        PLACE.replace("unit_id = 2", "unit_id = 3")
        + 'device = "counter"\npoint = "position"\ngain = "0.01 mm"\n'
    )
    pressure, plate, carriage = rig_of(text).bindings
    assert pressure.point == ModbusPoint(unit_id=2, table=Table.INPUT, address=2)
    assert pressure.channel.scaling.value_of(12000) == pytest.approx(80.0)
    assert pressure.channel.loop is not None
    assert plate.point == ModbusPoint(unit_id=2, table=Table.INPUT, address=1)
    assert plate.channel.scaling.value_of(2145) == pytest.approx(214.5)
    assert carriage.channel.scaling.data_type is DataType.INT32
    assert carriage.channel.scaling.value_of(0xFFFF_FFFF) == pytest.approx(-0.01)


def test_a_scaling_in_the_rig_file_replaces_the_devices() -> None:
    text = BUS + "[channel.pressure]\n" + IN_REGISTER + 'type = "uint16"\n[channel.plate_temperature]\n'
    text += PLACE + 'device = "thermocouple-input"\npoint = "temperature_1"\n'
    text += 'scale = { raw = [0, 1000], value = ["1 degC", "101 degC"] }\n'
    assert rig_of(text).bindings[1].channel.scaling.value_of(500) == pytest.approx(51.0)


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        (
            'device = "analog-input-8"\npoint = "input_1"\n',
            'rig.toml:8: [channel.pressure] device: unknown device "analog-input-8"; nearest',
        ),
        (
            'device = "analogue-input-8"\npoint = "input_9"\n',
            'rig.toml:9: [channel.pressure] point: no point "input_9" in analogue-input-8; nearest: ',
        ),
        (
            'device = "analogue-input-8"\npoint = "input_1"\naddress = 3\n',
            "rig.toml:10: [channel.pressure] address: comes from the device; leave one out",
        ),
        (
            'device = "counter"\npoint = "position"\nspan = ["0 bar", "1 bar"]\n',
            "rig.toml:10: [channel.pressure] span: needs a device whose point has raw numbers",
        ),
        (
            'point = "input_1"\n',
            "rig.toml:8: [channel.pressure] point: needs device, the name of a device file",
        ),
    ],
)
def test_a_wrong_device_is_named_with_the_nearest(keys: str, line: str) -> None:
    assert refusal_of(PLACE + keys).startswith(line)


def test_every_shipped_device_can_be_read_and_says_what_it_is() -> None:
    devices = known_devices()
    assert set(devices) == {"analogue-input-8", "counter", "pt100-input", "thermocouple-input"}
    assert list(devices["analogue-input-8"].points())[:9] == [
        *(f"input_{n}" for n in range(1, 9)),
        "switch_1",
    ]
    second = devices["pt100-input"].points()["temperature_2"]
    assert (second.address, second.word_order) == (2, WordOrder.CDAB)


def test_a_wrong_device_file_is_located() -> None:
    with pytest.raises(InputError, match=r"d\.toml:2: \[point\.p\] address: required key is missing"):
        device_of('name = "d"\n[point.p]\ntable = "input"\n', "d.toml")
    with pytest.raises(
        InputError, match=r"d\.toml:3: \[point\.p\] adress: unknown key; did you mean address\?"
    ):
        device_of('name = "d"\n[point.p]\nadress = 1\n', "d.toml")


OWN_DEVICE = """
name = "Gauge with a register map of its own"
[point.gauge]
table = "holding"
address = 40
type = "int32"
word_order = "CDAB"
raw = [0, 100000]
"""
ON_OWN_DEVICE = (
    BUS
    + "[channel.pressure]\n"
    + PLACE
    + 'device = "our-gauge"\npoint = "gauge"\nspan = ["0 bar", "100 bar"]\n'
)


def test_an_integrators_own_device_file_lies_beside_the_rig_file(tmp_path: Path) -> None:
    (tmp_path / "devices").mkdir()
    (tmp_path / "devices" / "our-gauge.toml").write_text(OWN_DEVICE)
    (tmp_path / "devices" / "another.toml").write_text("not read where nobody names it")
    (pressure,) = rig_of(ON_OWN_DEVICE, folder=tmp_path).bindings
    assert pressure.point == ModbusPoint(unit_id=2, table=Table.HOLDING, address=40)
    assert pressure.channel.scaling.word_order is WordOrder.CDAB
    assert pressure.channel.scaling.value_of(25000 << 16) == pytest.approx(25.0)


def test_an_own_device_that_is_not_there_is_named_with_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "devices").mkdir()
    (tmp_path / "devices" / "our-gauges.toml").write_text(OWN_DEVICE)
    with pytest.raises(InputError, match='device: unknown device "our-gauge"; nearest: our-gauges'):
        rig_of(ON_OWN_DEVICE, "rig.toml", tmp_path)


def test_an_own_device_file_that_is_wrong_or_takes_a_shipped_name_is_refused(tmp_path: Path) -> None:
    (tmp_path / "devices").mkdir()
    (tmp_path / "devices" / "our-gauge.toml").write_text(OWN_DEVICE.replace("CDAB", "CDBA"))
    with pytest.raises(InputError, match=r"our-gauge\.toml:7: \[point\.gauge\] word_order: .* nearest: "):
        rig_of(ON_OWN_DEVICE, folder=tmp_path)
    (tmp_path / "devices" / "counter.toml").write_text(OWN_DEVICE)
    with pytest.raises(InputError, match=r"counter\.toml: has the name of a device that is shipped"):
        rig_of(ON_OWN_DEVICE.replace("our-gauge", "counter"), folder=tmp_path)


def test_a_record_needs_no_device_file_any_more(tmp_path: Path) -> None:
    (tmp_path / "devices").mkdir()
    (tmp_path / "devices" / "our-gauge.toml").write_text(OWN_DEVICE)
    plate = (
        "[channel.plate_temperature]\n" + PLACE + 'device = "thermocouple-input"\npoint = "temperature_2"\n'
    )
    text = ON_OWN_DEVICE + plate
    now = rig_of(text, folder=tmp_path)
    kept = whole_text(text, tmp_path)
    assert kept.startswith(text)
    assert recorded_rig_of(kept, "rig of joint 1") == now
    (tmp_path / "devices" / "our-gauge.toml").write_text(OWN_DEVICE.replace("100000", "200000"))
    assert recorded_rig_of(kept, "rig of joint 1") == now, "what was recorded, not what the file says today"
    assert whole_text(kept, tmp_path) == kept
    with pytest.raises(InputError, match='unknown device "our-gauge"'):
        recorded_rig_of(text, "rig of joint 1")


def test_a_rig_file_without_devices_is_kept_as_it_is(tmp_path: Path) -> None:
    text = BUS + "[channel.pressure]\n" + IN_REGISTER + 'type = "uint16"\n'
    assert whole_text(text, tmp_path) == text


def test_a_device_within_the_rig_file_is_located_where_it_is_wrong() -> None:
    text = ON_OWN_DEVICE + '[device.our-gauge]\nname = "g"\n[device.our-gauge.point.gauge]\ntable = "input"\n'
    with pytest.raises(InputError, match=r"rig.toml:13: \[device.our-gauge.point.gauge\] address: required"):
        rig_of(text, "rig.toml")
    with pytest.raises(
        InputError, match=r"rig.toml:15: \[device.our-gauge.point.gauge\] adress: unknown key"
    ):
        rig_of(text + "adress = 3\n", "rig.toml")


def test_what_was_recorded_before_a_rule_is_read_all_the_same() -> None:
    twice = BUS + "".join(
        f'[channel.{name}]\n{IN_REGISTER}type = "uint16"\n' for name in ("pressure", "pressure_2")
    )
    assert len(recorded_rig_of(twice, "rig of joint 1").bindings) == 2
    with pytest.raises(InputError, match="is read by"):
        rig_of(twice)


def test_one_unit_of_a_bus_may_be_slower_than_the_others() -> None:
    text = BUS + 'pause = "5 ms"\n[bus.b.unit.7]\ntimeout = "1 s"\nworst_latency = "0.6 s"\n'
    bus = rig_of(text + "[channel.pressure]\n" + IN_REGISTER + 'type = "uint16"\n').buses[0]
    assert isinstance(bus, ModbusRtuBus)
    slow, other = bus.timing_of(7), bus.timing_of(2)
    assert (slow.timeout_s, slow.worst_latency_s, slow.pause_s) == (1.0, 0.6, 0.005)
    assert (other.timeout_s, other.worst_latency_s, other.pause_s) == (0.5, 0.2, 0.005)


@pytest.mark.parametrize(
    ("unit", "line"),
    [
        ("[bus.b.unit.300]\n", "rig.toml:5: [bus.b.unit] 300: a unit id from 0 to 255 is needed"),
        (
            '[bus.b.unit.7]\nworst_latency = "2 s"\n',
            "rig.toml:5: [bus.b.unit.7] timeout: 0.5 s is shorter than worst_latency, 2 s",
        ),
        (
            '[bus.b.unit.7]\nwurst_latency = "2 s"\n',
            "rig.toml:6: [bus.b.unit.7] wurst_latency: unknown key; did you mean worst_latency?",
        ),
    ],
)
def test_a_wrong_unit_is_located(unit: str, line: str) -> None:
    with pytest.raises(InputError) as refused:
        rig_of(BUS + unit + "[channel.pressure]\n" + IN_REGISTER + 'type = "uint16"\n', "rig.toml")
    assert str(refused.value) == line


def test_a_framed_line() -> None:
    text = (
        'name = "r"\n[bus.l]\nkind = "serial-line"\npath = "spy:///dev/ttyS0"\npattern = "(?P<p>.*)"\n'
        'baudrate = 4800\nparity = "S"\nstop_bits = 1.5\ndata_bits = 7\nline_start = "\\u0002"\n'
        'line_end = "\\u0003"\nchecksum = "xor"\nchecksum_mark = "*"\n'
        '[channel.pressure]\nbus = "l"\nfield = "p"\n'
    )
    (bus,) = rig_of(text).buses
    assert isinstance(bus, SerialLineBus)
    assert (bus.line_start, bus.line_end, bus.checksum, bus.checksum_mark) == ("\2", "\3", Checksum.XOR, "*")
    assert (bus.baudrate, bus.parity, bus.stop_bits, bus.data_bits) == (4800, "S", 1.5, 7)
    assert [b.channel.quantity for b in rig_of(text).bindings] == [Quantity.PRESSURE]


def test_a_pattern_may_be_as_long_as_a_line_needs() -> None:
    pattern = "(?P<p>[-+]?[0-9.]+) bar" + "; [A-Z]+=[-+]?[0-9.]+" * 20
    text = (
        f'name = "r"\n[bus.l]\nkind = "serial-line"\npath = "/dev/ttyS0"\npattern = "{pattern}"\n'
        '[channel.pressure]\nbus = "l"\nfield = "p"\n'
    )
    (bus,) = rig_of(text).buses
    assert isinstance(bus, SerialLineBus)
    assert bus.pattern == pattern


def test_a_url_that_nothing_opens_is_located() -> None:
    text = 'name = "r"\n[bus.l]\nkind = "serial-line"\npath = "rfc2271://h:1"\npattern = "(?P<p>.*)"\n'
    with pytest.raises(InputError) as refused:
        rig_of(text + '[channel.pressure]\nbus = "l"\nfield = "p"\n', "rig.toml")
    assert str(refused.value) == 'rig.toml:4: [bus.l] path: unknown protocol "rfc2271"; nearest: rfc2217'
