"""The trace CSV: a curve from anywhere, one row per time.

Columns `time_s,pressure_bar,plate_temperature_degC[,carriage_mm][,plate_in]` in any order. Pressure is gauge
bar with drag in it, `carriage_mm` the opening between the faces (0 touching), `plate_in` 0 or 1. An empty
field is no sample of that channel at that time.
"""

import csv
import difflib
import math
from collections.abc import Sequence
from pathlib import Path

from logger.domain.sample import Sample
from logger.errors import InputError

REQUIRED = ("time_s", "pressure_bar")
COLUMNS = (*REQUIRED, "plate_temperature_degC", "carriage_mm", "plate_in")
_DIGITS = {"pressure_bar": 3, "plate_temperature_degC": 2, "carriage_mm": 2}
"""The stored form of an imported value: thousandths of a bar, hundredths of a degree or millimetre."""


def load_trace(path: Path) -> list[Sample]:
    """Read a trace CSV into samples in their stored form, times on a grid of 1 ms.

    Raises:
        InputError: one line naming the file, the line and the column.
    """
    file = str(path)
    rows = csv.reader(_text_of(path).splitlines(), strict=True)
    try:
        header = [name.strip() for name in next(rows, [])]
        _check_header(header, file)
        samples: list[Sample] = []
        for fields in rows:
            if not fields:
                continue
            sample = _sample(header, fields, file, rows.line_num)
            if samples and sample.t_s <= samples[-1].t_s:
                raise InputError(
                    f"time {fields[header.index('time_s')].strip()} s is not after {samples[-1].t_s:.3f} s "
                    "(times must rise by at least 1 ms)",
                    file=file, line=rows.line_num, key="time_s",
                )  # fmt: skip
            samples.append(sample)
    except csv.Error as error:
        raise InputError(f"is no CSV: {error}", file=file, line=rows.line_num) from None
    if not samples:
        raise InputError("has no samples", file=file)
    return samples


def _text_of(path: Path) -> str:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError("no such file", file=str(path)) from None
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", file=str(path)) from None
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text; a trace CSV is needed", file=str(path)) from None
    if "\0" in text:
        raise InputError("is a binary file; a trace CSV is needed", file=str(path))
    return text


def _check_header(header: Sequence[str], file: str) -> None:
    if not any(header):
        raise InputError(f"is empty; the first line must name the columns {', '.join(COLUMNS)}", file=file)
    for name in header:
        if name not in COLUMNS:
            close = difflib.get_close_matches(name, COLUMNS, 1)
            hint = f"; did you mean {close[0]}?" if close else f" (columns: {', '.join(COLUMNS)})"
            raise InputError(f"unknown column{hint}", file=file, line=1, key=name)
        if header.count(name) > 1:
            raise InputError("column is there twice", file=file, line=1, key=name)
    for name in REQUIRED:
        if name not in header:
            raise InputError("column is missing", file=file, line=1, key=name)


def _sample(header: Sequence[str], fields: Sequence[str], file: str, line: int) -> Sample:
    if len(fields) != len(header):
        raise InputError(f"has {len(fields)} fields, the header {len(header)}", file=file, line=line)
    values = {
        name: _number(text.strip(), name, file, line) for name, text in zip(header, fields, strict=True)
    }
    time_s = values["time_s"]
    if time_s is None:
        raise InputError("every row needs a time", file=file, line=line, key="time_s")
    plate_in = values.get("plate_in")
    if plate_in not in (None, 0.0, 1.0):
        raise InputError(f"must be 0 or 1, not {plate_in:g}", file=file, line=line, key="plate_in")
    return Sample(
        t_s=round(time_s * 1000) / 1000,
        pressure_bar=values.get("pressure_bar"),
        plate_temperature_degC=values.get("plate_temperature_degC"),
        carriage_mm=values.get("carriage_mm"),
        plate_in=None if plate_in is None else plate_in == 1.0,
    )


def _number(text: str, name: str, file: str, line: int) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        raise InputError(f'"{text}" is not a number', file=file, line=line, key=name) from None
    if not math.isfinite(value):
        raise InputError(f'"{text}" is not a reading; leave the field empty', file=file, line=line, key=name)
    digits = _DIGITS.get(name)
    return value if digits is None else round(value, digits)
