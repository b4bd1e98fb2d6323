"""Bad input: one line that names file, line and key; the documented exit code; nothing on stdout."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.unit.cli.command import command_of

JOINT = """\
joint = "A-001"
procedure = "dvs-2207-1:2015"
ambient_temperature = "20 degC"
drag_pressure = "12 bar"

[pipe]
material = "PE100"
outside_diameter = "180 mm"
sdr = 11

[rig]
cylinder_area = "6.29 cm2"
"""
TRACE = "time_s,pressure_bar,plate_temperature_degC\n0.0,8.0,220\n0.1,8.1,220\n"
BINARY = bytes(range(256)) * 4
BAD_INPUT, REFUSED, USAGE = 3, 4, 2


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


@pytest.fixture
def files(tmp_path):
    """The two files in a folder with a space in its name."""
    folder = tmp_path / "site 4"
    folder.mkdir()
    (folder / "joint.toml").write_text(JOINT, encoding="utf-8")
    (folder / "trace.csv").write_text(TRACE, encoding="utf-8")
    return folder


def one_line(ran, code: int, *words: str) -> None:
    assert ran.out == ""
    assert ran.err.startswith("beadwatch: ")
    assert ran.err.count("\n") == 1
    assert ran.err.endswith("\n")
    for word in words:
        assert word in ran.err, ran.err
    assert ran.code == code


BAD_JOINTS = [
    ("unknown key", ("sdr = 11", "sdr = 11\nwall_thicknes = 3"), 10, ["wall_thicknes", "wall_thickness"]),
    ("unknown table", ("[rig]", "[rigg]"), 11, ["rigg", "rig"]),
    ("wrong unit", ('"180 mm"', '"180 bar"'), 8, ["outside_diameter", "180 bar"]),
    ("no unit", ('"180 mm"', '"180"'), 8, ["outside_diameter", "mm"]),
    ("a number without quotes", ('"12 bar"', "12"), 4, ["drag_pressure"]),
    ("sdr and another wall", ("sdr = 11", 'sdr = 11\nwall_thickness = "9 mm"'), None, ["sdr", "wall_thick"]),
    ("negative diameter", ('"180 mm"', '"-180 mm"'), 8, ["outside_diameter", "-180 mm"]),
    ("no diameter", ('outside_diameter = "180 mm"\n', ""), None, ["outside_diameter"]),
    ("unknown procedure", ("dvs-2207-1:2015", "dvs-2207-1:2016"), 2, ["procedure", "dvs-2207-1:2015"]),
    ("unknown material", ('"PE100"', '"PE1000"'), 7, ["material", "PE100"]),
    ("no TOML", ('joint = "A-001"', "joint = A-001"), 1, ["TOML"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "line", "words"), [row[1:] for row in BAD_JOINTS], ids=[r[0] for r in BAD_JOINTS]
)
def test_a_wrong_joint_file(beadwatch, files, change, line, words):
    old, new = change
    assert old in JOINT
    path = files / "joint.toml"
    path.write_text(JOINT.replace(old, new, 1), encoding="utf-8")
    where = str(path) if line is None else f"{path}:{line}:"
    one_line(beadwatch("plan", path), BAD_INPUT, where, *words)
    one_line(beadwatch("judge", files / "trace.csv", path), BAD_INPUT, where, *words)


BAD_TRACES = [
    ("empty", "", None, ["time_s"]),
    ("header alone", "time_s,pressure_bar\n", None, ["no samples"]),
    ("time running backwards", TRACE + "0.05,8.0,220\n", 4, ["time_s", "0.05"]),
    ("time standing still", TRACE + "0.1,8.0,220\n", 4, ["time_s", "0.1"]),
    ("non-numeric field", TRACE + "0.2,eight,220\n", 4, ["pressure_bar", '"eight"']),
    ("decimal comma", TRACE + '0.2,"8,0",220\n', 4, ["pressure_bar", '"8,0"']),
    ("not a number", TRACE + "0.2,nan,220\n", 4, ["pressure_bar", "nan"]),
    ("no time", TRACE + ",8.0,220\n", 4, ["time_s"]),
    ("too many fields", TRACE + "0.2,8.0,220,1\n", 4, ["4 fields"]),
    ("unknown column", TRACE.replace("pressure_bar", "presure_bar"), 1, ["presure_bar", "pressure_bar?"]),
    ("missing column", TRACE.replace("time_s", "carriage_mm"), 1, ["time_s"]),
    ("column twice", TRACE.replace("plate_temperature_degC", "pressure_bar"), 1, ["pressure_bar", "twice"]),
    ("plate neither in nor out", "time_s,pressure_bar,plate_in\n0.0,8.0,2\n", 2, ["plate_in", "0 or 1"]),
    ("semicolons", TRACE.replace(",", ";"), 1, ["time_s;pressure_bar"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "line", "words"), [row[1:] for row in BAD_TRACES], ids=[r[0] for r in BAD_TRACES]
)
def test_a_wrong_trace(beadwatch, files, text, line, words):
    path = files / "trace.csv"
    path.write_text(text, encoding="utf-8")
    where = str(path) if line is None else f"{path}:{line}:"
    one_line(beadwatch("judge", path, files / "joint.toml"), BAD_INPUT, where, *words)
    one_line(beadwatch("judge", path), BAD_INPUT, where, *words)


@pytest.mark.parametrize(
    "content", [BINARY, b"time_s,pressure_bar\n0.0,\x001\n"], ids=["bytes", "a zero byte"]
)
def test_a_binary_file_is_none_of_ours(beadwatch, files, content):
    path = files / "curve.bin"
    path.write_bytes(content)
    one_line(beadwatch("judge", path, files / "joint.toml"), BAD_INPUT, str(path))
    one_line(beadwatch("judge", files / "trace.csv", path), BAD_INPUT, str(path))
    one_line(beadwatch("plan", path), BAD_INPUT, str(path))


@pytest.mark.parametrize("name", ["nowhere.toml", "."], ids=["missing file", "directory"])
def test_what_is_no_file(beadwatch, files, name):
    path = files / name
    one_line(beadwatch("plan", path), BAD_INPUT, str(path))
    one_line(beadwatch("judge", path), BAD_INPUT, str(path))
    one_line(beadwatch("judge", files / "trace.csv", path), BAD_INPUT, str(path))
    one_line(beadwatch("judge", files / "trace.csv", "--rig", path), BAD_INPUT, str(path))


@pytest.mark.parametrize(
    ("change", "words"),
    [(("PE100", "PVDF"), ["dvs-2207-1:2015", "PVDF"]), (("20 degC", "60 degC"), ["60"]),
     (('"180 mm"\nsdr = 11', '"1600 mm"\nwall_thickness = "140 mm"'), ["140"])],
    ids=["material", "ambient", "wall"],
)  # fmt: skip
def test_what_the_procedure_does_not_cover_is_refused_with_a_code_of_its_own(beadwatch, files, change, words):
    path = files / "joint.toml"
    path.write_text(JOINT.replace(*change, 1), encoding="utf-8")
    one_line(beadwatch("plan", path), REFUSED, *words)
    one_line(beadwatch("plan", path, "--json"), REFUSED, *words)
    one_line(beadwatch("judge", files / "trace.csv", path), REFUSED, *words)


def test_an_area_in_both_files_that_differs_is_an_error(beadwatch, files):
    from importlib.resources import files as resources

    rig = files / "rig.toml"
    text = (resources("configs") / "demo" / "rig.toml").read_text(encoding="utf-8")
    rig.write_text(text.replace('"6.29 cm2"', '"7.5 cm2"'), encoding="utf-8")
    ran = beadwatch("judge", files / "trace.csv", files / "joint.toml", "--rig", rig)
    one_line(ran, BAD_INPUT, "area")


@pytest.mark.parametrize("arguments", [["plan"], ["frobnicate"], ["judge", "a.csv", "--jsn"]])
def test_a_wrong_command_line_is_a_usage_error(beadwatch, arguments):
    ran = beadwatch(*arguments)
    assert (ran.code, ran.out) == (USAGE, "")
    assert "Usage" in ran.err


# The HTTP library leaves the socket that could not connect to the garbage collector.
@pytest.mark.filterwarnings("ignore:Exception ignored in. <socket:pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("command", ["state", "abort", "start"])
def test_a_recorder_that_is_not_there_is_a_device_error(beadwatch, files, command):
    extra = {"state": [], "abort": ["--reason", "test"], "start": [files / "joint.toml"]}[command]
    one_line(beadwatch(command, *extra, "--socket", files / "none.sock"), 5, "none.sock")


@pytest.mark.parametrize(
    "arguments",
    [["joints", "list"], ["joints", "show", "A-001"], ["joints", "curve", "A-001"], ["rejudge", "A-001"]],
)
def test_a_record_that_is_not_there_is_a_store_error(beadwatch, files, arguments):
    ran = beadwatch(*arguments, "--store", files / "none.db")
    one_line(ran, 5, "none.db")
    assert not (files / "none.db").exists(), "looking must not make one"


def test_the_process_behaves_like_the_function(files: Path):
    path = files / "joint.toml"
    path.write_text(JOINT.replace("sdr = 11", "sdr = 11\nwall_thicknes = 3"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "logger", "plan", str(path)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stdout) == (BAD_INPUT, "")
    assert done.stderr.startswith(f"beadwatch: {path}:10:")
    assert done.stderr.count("\n") == 1
