"""A joint as a trace CSV, with its true phase boundaries beside it."""

import csv
from pathlib import Path

from simulators.rig import Trajectory
from simulators.sensors import Reading, Sensors


def write_trace(
    path: Path, sensors: Sensors, rate_Hz: float, *, with_carriage: bool = True, with_plate_in: bool = True
) -> Path:
    """Write PATH and, beside it, NAME.truth.csv, whose path is returned.

    Columns: `time_s,pressure_bar,plate_temperature_degC[,carriage_mm][,plate_in]`; pressure is gauge bar with
    drag. While the device is silent a row holds its time alone. Truth: `phase,start_s,end_s`.
    """
    columns = ["time_s", "pressure_bar", "plate_temperature_degC"]
    columns += ["carriage_mm"] * with_carriage + ["plate_in"] * with_plate_in
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, restval="", extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        for number in range(int(sensors.trajectory.duration_s * rate_Hz) + 1):
            t_s = round(number / rate_Hz, 3)
            writer.writerow({"time_s": f"{t_s:.3f}", **_fields(sensors.read(t_s))})
    truth_path = path.with_name(f"{path.stem}.truth.csv")
    _write_truth(truth_path, sensors.trajectory)
    return truth_path


def _fields(reading: Reading | None) -> dict[str, str]:
    if reading is None:
        return {}
    return {
        "pressure_bar": f"{reading.pressure_bar:.4f}",
        "plate_temperature_degC": f"{reading.plate_temperature_degC:.1f}",
        "carriage_mm": f"{reading.carriage_mm:.2f}",
        "plate_in": str(reading.plate_in),
    }


def _write_truth(path: Path, trajectory: Trajectory) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["phase", "start_s", "end_s"])
        for span in trajectory.truth:
            writer.writerow([span.phase, f"{span.start_s:.3f}", f"{span.end_s:.3f}"])
