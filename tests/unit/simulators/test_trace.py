"""The trace CSV and its truth, by way of the command line."""

import csv
import itertools
import subprocess
import sys
from pathlib import Path

import pytest

from simulators.__main__ import main
from simulators.scenario import scenario_names

HEADER = ["time_s", "pressure_bar", "plate_temperature_degC", "carriage_mm", "plate_in"]


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def trace(folder: Path, *arguments: str) -> list[dict[str, str]]:
    path = folder / "joint.csv"
    assert main(["trace", *arguments, "--out", str(path), "--cooling-s", "60"]) == 0
    return rows_of(path)


def test_the_columns_times_and_values_of_a_trace(tmp_path: Path) -> None:
    rows = trace(tmp_path, "clean", "--rate", "20")
    assert list(rows[0]) == HEADER
    times = [float(row["time_s"]) for row in rows]
    assert times[0] == 0.0
    assert all(after - before == pytest.approx(0.05) for before, after in itertools.pairwise(times))
    assert {row["plate_in"] for row in rows} == {"0", "1"}
    assert all(200.0 < float(row["plate_temperature_degC"]) < 230.0 for row in rows)
    assert min(float(row["carriage_mm"]) for row in rows) < 0.0
    assert all(row[column] for row in rows for column in HEADER)


def test_the_truth_lies_beside_the_trace_and_inside_it(tmp_path: Path) -> None:
    rows = trace(tmp_path, "clean")
    truth = rows_of(tmp_path / "joint.truth.csv")
    assert [row["phase"] for row in truth] == [
        "bead_up",
        "heat_soak",
        "changeover",
        "pressure_build_up",
        "cooling",
    ]
    edges = [float(row["start_s"]) for row in truth] + [float(truth[-1]["end_s"])]
    assert edges == sorted(edges)
    assert edges[0] > 0.0
    assert edges[-1] + 10.0 < float(rows[-1]["time_s"])
    plate_out = [float(row["time_s"]) for row in rows if row["plate_in"] == "1"][-1]
    assert edges[2] < plate_out < edges[3]


def test_the_same_seed_gives_the_same_bytes_and_another_seed_does_not(tmp_path: Path) -> None:
    path = tmp_path / "joint.csv"
    texts = []
    for seed in ("4", "4", "5"):
        trace(tmp_path, "clean", "--seed", seed)
        texts.append(path.read_bytes())
    assert texts[0] == texts[1]
    assert texts[0] != texts[2]


def test_columns_of_channels_that_are_not_fitted_are_left_out(tmp_path: Path) -> None:
    assert list(trace(tmp_path, "clean", "--no-carriage", "--no-plate-in")[0]) == HEADER[:3]


def test_a_silent_device_leaves_its_fields_empty(tmp_path: Path) -> None:
    path = tmp_path / "joint.csv"
    assert main(["trace", "dropouts", "--out", str(path)]) == 0
    silent = [row for row in rows_of(path) if not row["pressure_bar"]]
    assert len(silent) == 3 * 60
    assert all(row["time_s"] and not any(row[column] for column in HEADER[1:]) for row in silent)


def test_values_can_be_changed_from_the_command_line(tmp_path: Path) -> None:
    trace(tmp_path, "clean", "--targets", '{"bead_up_s": 31}')
    truth = rows_of(tmp_path / "joint.truth.csv")
    assert float(truth[0]["end_s"]) - float(truth[0]["start_s"]) == pytest.approx(31.0, abs=0.1)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["claen"], "claen: no such scenario (did you mean clean?)"),
        (["clean", "--rig", '{"drag": 3}'], "rig: drag: unknown key (did you mean drag_bar?)"),
        (["clean", "--pipe", '{"wall_mm": -1}'], "wall_mm: -1.0 is too small"),
    ],
)
def test_a_wrong_scenario_ends_with_one_line_and_code_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], message: str
) -> None:
    assert main(["trace", *arguments, "--out", str(tmp_path / "x.csv")]) == 3
    captured = capsys.readouterr()
    assert captured.out == ""
    assert message in captured.err
    assert captured.err.count("\n") == 1


def test_a_file_that_cannot_be_written_ends_with_code_5(tmp_path: Path) -> None:
    assert main(["trace", "clean", "--cooling-s", "10", "--out", str(tmp_path / "no" / "x.csv")]) == 5


@pytest.mark.parametrize("option", ["--targets={", "--targets=3", "--rate=0", "--tcp=nowhere"])
def test_a_wrong_option_is_a_usage_error(option: str) -> None:
    command = "serve" if option.startswith("--tcp") else "trace"
    with pytest.raises(SystemExit) as caught:
        main([command, "clean", option, *(["--out", "x.csv"] if command == "trace" else [])])
    assert caught.value.code == 2


def test_serving_on_nothing_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve", "clean"]) == 2
    assert "--tcp" in capsys.readouterr().err


def test_list_names_every_scenario(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list"]) == 0
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == scenario_names()


def test_the_simulator_runs_without_the_recorder() -> None:
    code = (
        "import sys, simulators.__main__, simulators.misbehave\n"
        "print([name for name in sys.modules if name.split('.')[0] == 'logger'])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
