"""A recorded trace CSV as a rig: the samples carry the file's own times."""

import asyncio
import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from logger.acquire.decode import field_name, readings_of_fields
from logger.acquire.driver import Answer, SourceEndedError
from logger.acquire.grouping import Request
from logger.domain.bus import ReplayBus
from logger.domain.clock import Clock
from logger.errors import InputError


@dataclass(frozen=True, slots=True)
class _Row:
    time_s: float
    fields: dict[str, str]


class ReplayDriver:
    """A file, paced by the clock: a row is handed out when the clock has gone as far as the file has."""

    def __init__(self, bus: ReplayBus, requests: Sequence[Request], clock: Clock) -> None:
        """Read the whole file. Raises InputError naming file, line and column for anything that is wrong."""
        self._clock = clock
        self._rows = _rows_of(bus, requests)
        self._next = 0
        self._offset_s: float | None = None

    async def ensure_ready(self) -> None:
        if self._offset_s is None:
            self._offset_s = self._clock.mono_s() - self._rows[0].time_s

    async def ensure_closed(self) -> None:
        return

    async def read(self, request: Request) -> Answer:
        """Return the next row; raises SourceEndedError behind the last."""
        if self._next >= len(self._rows):
            raise SourceEndedError("the recording has ended")
        row = self._rows[self._next]
        await self._clock.sleep(max(0.0, row.time_s + (self._offset_s or 0.0) - self._clock.mono_s()))
        await asyncio.sleep(0)  # A clock that never sleeps must not starve the others.
        self._next += 1
        readings = readings_of_fields(request.bindings, row.fields)
        return Answer(readings=readings, sent_s=row.time_s, received_s=row.time_s)


def _rows_of(bus: ReplayBus, requests: Sequence[Request]) -> tuple[_Row, ...]:
    try:
        text = Path(bus.file).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError("no such file", file=bus.file) from None
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"cannot be read: {error}", file=bus.file) from error
    reader = csv.DictReader(text.splitlines(), strict=True)
    rows: list[_Row] = []
    try:
        columns = reader.fieldnames or []
        _check_columns(bus, requests, columns)
        for fields in reader:
            row = _row_of(bus, requests, fields, reader.line_num)
            if rows and row.time_s <= rows[-1].time_s:
                message = f"time {row.time_s:g} s is not after {rows[-1].time_s:g} s"
                raise InputError(message, file=bus.file, line=reader.line_num, key=bus.time_column)
            rows.append(row)
    except csv.Error as error:
        raise InputError(f"is no CSV: {error}", file=bus.file, line=reader.line_num) from error
    if not rows:
        raise InputError("has no samples", file=bus.file)
    return tuple(rows)


def _check_columns(bus: ReplayBus, requests: Sequence[Request], columns: Sequence[str]) -> None:
    wanted = [field_name(binding) for request in requests for binding in request.bindings]
    for name in (bus.time_column, *wanted):
        if name not in columns:
            known = ", ".join(columns) or "none"
            raise InputError(f"there is no such column (columns: {known})", file=bus.file, line=1, key=name)


def _row_of(bus: ReplayBus, requests: Sequence[Request], fields: dict[str, str], line: int) -> _Row:
    if None in fields or None in fields.values():
        raise InputError("the line has not as many fields as the header", file=bus.file, line=line)
    key = bus.time_column
    try:
        time_s = float(fields[key])
        if not math.isfinite(time_s):
            raise ValueError(f"{fields[key]!r} is no time")
        for request in requests:
            for binding in request.bindings:
                key = field_name(binding)
                readings_of_fields((binding,), fields)
    except ValueError as error:
        raise InputError(str(error), file=bus.file, line=line, key=key) from error
    return _Row(time_s, fields)
