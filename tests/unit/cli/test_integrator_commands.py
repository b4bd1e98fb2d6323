"""`init` and `check` without a device, and what `scan` and `probe` refuse before they open anything."""

import shlex
from pathlib import Path

import pytest

from logger.config.rig_file import load_rig
from logger.domain.channel import DataType, Quantity
from logger.wording.init_text import questions
from logger.wording.integrator_text import place_of, reference_of
from tests.unit.cli.command import Command, command_of


@pytest.fixture
def run(capsys, monkeypatch) -> Command:
    return command_of(capsys, monkeypatch)


def set_of(answers: dict[str, str]) -> list[str]:
    return [part for key, value in answers.items() for part in ("--set", f"{key}={value}")]


KINDS = {
    "rtu": {"path": "/dev/ttyUSB9", "pressure.raw": "6400, 32000", "pressure.signal": "4-20 mA"},
    "tcp": {"kind": "modbus-tcp", "host": "192.0.2.7", "carriage": "yes", "plate_in": "yes"},
    "line": {"kind": "serial-line", "path": "socket://192.0.2.7:4001", "poll_request": "?"},
    "devices": {
        "pressure.device": "analogue-input-8",
        "pressure.point": "input_2",
        "plate_temperature.device": "thermocouple-input",
        "plate_temperature.point": "temperature_1",
        "plate_temperature.span": "",
    },
}


@pytest.mark.parametrize("kind", KINDS)
def test_init_writes_what_can_be_read_and_checked(run: Command, tmp_path: Path, kind: str) -> None:
    file = tmp_path / "rig.toml"
    done = run("init", file, "--yes", *set_of(KINDS[kind]))
    assert done.code == 0, done.err
    assert "relieve the accumulator" in done.err
    bound = {binding.channel.quantity for binding in load_rig(file).bindings}
    expected = {Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE}
    assert bound == (set(list(Quantity)[:4]) if kind == "tcp" else expected)
    checked = run("check", file)
    assert checked.code == 0, checked.err
    assert "Shortest limits" in checked.out


def test_init_asks_what_was_not_given(run: Command, tmp_path: Path, monkeypatch) -> None:
    asked: list[str] = []

    def prompt(text: str, default: str, **_: object) -> str:
        asked.append(text)
        return "typo" if text.startswith("Parity") and len(asked) == asked.index(text) + 1 < 13 else default

    monkeypatch.setattr("logger.cli.init.typer.prompt", prompt)
    file = tmp_path / "rig.toml"
    done = run("init", file, "--set", "name=north crew")
    assert done.code == 0, done.err
    assert load_rig(file).rig.name == "north crew"
    parity = [text for text in asked if text.startswith("Parity")]
    assert len(parity) == 2, "it asks again"
    assert '"typo" is not one of E, N, O, M, S' in done.err
    assert not any(text.startswith("Host") for text in asked)


@pytest.mark.parametrize(
    ("answers", "message"),
    [
        ({"baudrat": "9600"}, '--set: unknown key "baudrat"; nearest: baudrate'),
        ({"kind": "modbus"}, 'kind: "modbus" is not one of modbus-rtu, modbus-tcp, serial-line'),
        ({"host": "192.0.2.1"}, '--set: "host" has no meaning with the other answers'),
        ({"pressure.type": "uint8"}, "[channel.pressure] type: "),
        ({"pressure.valid": "1 bar, 2 degC"}, "is a temperature; a pressure"),
    ],
)
def test_a_wrong_answer_writes_nothing(
    run: Command, tmp_path: Path, answers: dict[str, str], message: str
) -> None:
    file = tmp_path / "rig.toml"
    done = run("init", file, "--yes", *set_of(answers))
    assert done.code == 3
    assert message in done.err
    assert not file.exists()


def test_no_answer_is_lost_to_a_wrong_one(run: Command, tmp_path: Path) -> None:
    """The command that is offered has all of them; with the wrong one put right it writes the file."""
    file = tmp_path / "rig.toml"
    refused = run("init", file, "--yes", *set_of({"name": "north crew", "pressure.rate": "10 bar"}))
    assert refused.code == 3
    offered = next(line for line in refused.err.splitlines() if "--yes" in line)
    words = shlex.split(offered.partition("beadwatch ")[2].replace("10 bar", "10 Hz"))
    assert run(*words).code == 0
    assert load_rig(file).rig.name == "north crew"


def test_init_overwrites_nothing(run: Command, tmp_path: Path) -> None:
    file = tmp_path / "rig.toml"
    file.write_text("# mine\n")
    done = run("init", file, "--yes")
    assert (done.code, file.read_text()) == (3, "# mine\n")
    assert "is there already" in done.err


def test_the_questions_are_listed(run: Command, tmp_path: Path) -> None:
    listed = run("init", tmp_path / "rig.toml", "--keys").out.splitlines()
    assert [line.split()[0] for line in listed] == [question.key for question in questions()]
    (types,) = (line for line in listed if line.startswith("pressure.type "))
    assert all(f" {kind}" in types for kind in DataType if kind is not DataType.COUNT)


def test_check_shows_load_remarks_and_limits(run: Command) -> None:
    shown = run("check", Path("configs/examples/rig.toml"))
    assert shown.code == 0
    assert "unit 3 holding 16, 2 registers        2/s x 18.8 ms = 0.037" in shown.out
    assert "carriage: no uncertainty is declared" in shown.out


REPLAY = """
name = "old rig"
[bus.file]
kind = "replay"
file = "trace.csv"
[channel.pressure]
bus = "file"
field = "pressure_bar"
"""


def test_check_reads_the_recording_of_a_replay(run: Command, tmp_path: Path) -> None:
    file, trace = tmp_path / "rig.toml", tmp_path / "trace.csv"
    file.write_text(REPLAY)
    missing = run("check", file)
    assert (missing.code, missing.err) == (3, f"beadwatch: {trace}: no such file\n")
    trace.write_text("time_s,pressure_psi\n0,1\n")
    wrong = run("check", file)
    assert wrong.code == 3
    assert f"{trace}:1: pressure_bar: there is no such column" in wrong.err
    trace.write_text("time_s,pressure_bar\n0,1\n0.1,1\n")
    right = run("check", file)
    assert right.code == 0
    assert "old rig, 1 channel on 1 bus\n" in right.out
    assert f"Load\nfile ({trace}): a recording, at its own times\n" in right.out


def test_check_says_what_sets_the_pace_of_lines_of_text(run: Command, tmp_path: Path) -> None:
    file = tmp_path / "rig.toml"
    assert (
        run("init", file, "--yes", "--set", "kind=serial-line", "--set", "path=socket://192.0.2.7:4001").code
        == 0
    )
    assert "rig (socket://192.0.2.7:4001): lines of text, as they are sent; --live" in run("check", file).out


def test_check_refuses_what_the_line_cannot_carry(run: Command, tmp_path: Path) -> None:
    text = Path("configs/examples/rig.toml").read_text().replace("baudrate = 19200", "baudrate = 300")
    file = tmp_path / "rig.toml"
    file.write_text(text)
    refused = run("check", file)
    assert refused.code == 3
    assert "300 Bd 8E1 cannot carry this: 2/s of 2 registers x" in refused.err


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["scan", "/dev/null", "--units", "1-300"], "--units: unit ids run from 1 to 247"),
        (["scan", "/dev/null", "--units", "a"], '--units: "a" is no unit id'),
        (["scan", "/dev/null", "--parity", "X"], "'X' is not a valid Parity"),
        (["probe", "/dev/null", "--reference", "50000"], "--reference: 50000 is no printed number"),
        (["probe", "/dev/null", "--address", "65535", "--count", "2"], "run past the last address, 65535"),
    ],
)
def test_what_cannot_be_asked_is_refused_first(run: Command, arguments: list[str], message: str) -> None:
    refused = run(*arguments)
    assert refused.code == 3
    assert message in refused.err


@pytest.mark.parametrize("number", [1, 9999, 10001, 30001, 30011, 40001, 49999])
def test_printed_numbers_go_there_and_back(number: int) -> None:
    assert reference_of(*place_of(number)) == number


@pytest.mark.parametrize("number", [0, 10000, 20001, 50001])
def test_what_is_no_printed_number(number: int) -> None:
    with pytest.raises(ValueError, match="is no printed number"):
        place_of(number)


PRESSURE_RIG = (
    'name = "rig"\n[bus.b]\nkind = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1\n'
    '[channel.pressure]\nbus = "b"\nunit_id = 1\ntable = "input"\naddress = 0\ntype = "uint16"\n'
    'signal = "4-20 mA"\nscale = { raw = [4000, 20000], value = ["0 bar", "160 bar"] }\n'
)
WHO = ["--by", "Ines Falk", "--reference", "gauge G-4", "--reference-uncertainty", "0.1"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["carriage", *WHO], "carriage: the rig has no such channel; it has pressure, plate_in"),
        (["pressure"], "--by, --reference and --reference-uncertainty are needed"),
        (["pressure", *WHO, "--due", "2020-01-01"], "--due: 2020-01-01 is not after today"),
        (["pressure", *WHO, "--due", "soon"], '--due: "soon" is no date'),
        (
            ["pressure", *WHO, "--reference-due", "2020-06-30"],
            "--reference-due: the reference was due on 2020-06-30: what is held against it is not traceable",
        ),
        (["plate_in", *WHO], "plate_in: is a switch, on or off"),
    ],
)
def test_a_calibration_that_makes_no_record_is_refused(
    run: Command, tmp_path: Path, arguments: list[str], message: str
) -> None:
    rig_file = tmp_path / "rig.toml"
    switch = '[channel.plate_in]\nbus = "b"\nunit_id = 1\ntable = "discrete"\naddress = 0\n'
    rig_file.write_text(PRESSURE_RIG + switch, encoding="utf-8")
    refused = run("calibrate", rig_file, *arguments)
    assert refused.code == 3
    assert message in refused.err


def test_a_commissioning_needs_a_person(run: Command, tmp_path: Path) -> None:
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(PRESSURE_RIG, encoding="utf-8")
    refused = run("commission", rig_file)
    assert refused.code == 3
    assert "--by: is needed" in refused.err
