"""Reading a joint's points back from a server, to compare them with the record."""

import json
from collections import defaultdict
from collections.abc import Mapping
from enum import StrEnum
from typing import Any

import httpx

from logger.errors import DeviceError
from logger.forward.lines import CODE_TAG, MEASUREMENTS, PHASE_TAG, Value

Points = Mapping[str, Mapping[int, Value]]
"""Name of a column (measurement, phase or code if any, field) to milliseconds of the epoch to value."""
_TAGS = (PHASE_TAG, CODE_TAG)


class Dialect(StrEnum):
    """How a server is asked. `influxql` is the `/query` of InfluxDB 1.x and of 2.x in its 1.x manner."""

    INFLUXQL = "influxql"
    VICTORIA_METRICS = "victoria-metrics"

    @property
    def keeps_text(self) -> bool:
        """VictoriaMetrics 1.79 stores 0 for a text (seen)."""
        return self is Dialect.INFLUXQL


def column(measurement: str, tag: str, field: str) -> str:
    """The name of a column; `tag` is empty where nothing but rig and joint tells the series."""
    return "/".join(part for part in (measurement, tag, field) if part)


def points_on(client: httpx.Client, dialect: Dialect, bucket: str, joint_uuid: str) -> Points:
    """Return every point that the server has of a joint. Raises DeviceError when it does not say."""
    try:
        if dialect is Dialect.VICTORIA_METRICS:
            client.get("/internal/force_flush").raise_for_status()
            match = f'{{__name__=~"({"|".join(MEASUREMENTS)})_.*",joint="{joint_uuid}"}}'
            answer = client.get("/api/v1/export", params={"match[]": match, "start": "0"})
            return _from_export(answer.raise_for_status().text)
        query = "; ".join(
            f"SELECT * FROM \"{name}\" WHERE joint = '{joint_uuid}'"  # noqa: S608 - names and a uuid of ours
            for name in MEASUREMENTS
        )
        answer = client.get("/query", params={"db": bucket, "epoch": "ms", "q": query})
        return _from_influxql(answer.raise_for_status().json())
    except (httpx.HTTPError, ValueError, LookupError, TypeError) as error:
        raise DeviceError(f"{client.base_url}: cannot be read back: {error}") from error


def _from_export(text: str) -> Points:
    points: dict[str, dict[int, Value]] = defaultdict(dict)
    for line in text.splitlines():
        series = json.loads(line)
        metric = series["metric"]
        measurement = next(name for name in MEASUREMENTS if metric["__name__"].startswith(f"{name}_"))
        tag = next((metric[name] for name in _TAGS if name in metric), "")
        name = column(measurement, tag, metric["__name__"].removeprefix(f"{measurement}_"))
        for at_ms, value in zip(series["timestamps"], series["values"], strict=True):
            if at_ms in points[name]:
                raise ValueError(f"two points of {name} at {at_ms}")
            points[name][int(at_ms)] = float(value)
    return points


def _from_influxql(document: dict[str, Any]) -> Points:
    points: dict[str, dict[int, Value]] = defaultdict(dict)
    for result in document["results"]:
        for series in result.get("series", []):
            for row in series["values"]:
                cells = dict(zip(series["columns"], row, strict=True))
                tag = next((cells[name] for name in _TAGS if cells.get(name)), "")
                at_ms = int(cells["time"])
                for field, value in cells.items():
                    if value is not None and field not in ("time", "joint", "rig", *_TAGS):
                        known = value if isinstance(value, str) else float(value)
                        points[column(series["name"], tag, field)][at_ms] = known
    return points
