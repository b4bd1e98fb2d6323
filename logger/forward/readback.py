"""Reading a joint's points back from a server, to compare them with the record."""

import json
from collections import defaultdict
from collections.abc import Mapping
from enum import StrEnum
from typing import Any

import httpx

from logger.errors import DeviceError
from logger.forward.lines import SAMPLE

Points = Mapping[str, Mapping[int, float]]
"""Field name to milliseconds of the epoch to value."""


class Dialect(StrEnum):
    """How a server is asked. `influxql` is the `/query` of InfluxDB 1.x and of 2.x in its 1.x manner."""

    INFLUXQL = "influxql"
    VICTORIA_METRICS = "victoria-metrics"


def samples_on(client: httpx.Client, dialect: Dialect, bucket: str, joint_uuid: str) -> Points:
    """Return every sample point that the server has of a joint. Raises DeviceError when it does not say."""
    try:
        if dialect is Dialect.VICTORIA_METRICS:
            client.get("/internal/force_flush").raise_for_status()
            match = f'{{__name__=~"{SAMPLE}_.*",joint="{joint_uuid}"}}'
            answer = client.get("/api/v1/export", params={"match[]": match, "start": "0"})
            return _from_export(answer.raise_for_status().text)
        query = f"SELECT * FROM \"{SAMPLE}\" WHERE joint = '{joint_uuid}'"  # noqa: S608 - a uuid of ours
        answer = client.get("/query", params={"db": bucket, "epoch": "ms", "q": query})
        return _from_influxql(answer.raise_for_status().json())
    except (httpx.HTTPError, ValueError, LookupError, TypeError) as error:
        raise DeviceError(f"{client.base_url}: cannot be read back: {error}") from error


def _from_export(text: str) -> Points:
    points: dict[str, dict[int, float]] = defaultdict(dict)
    for line in text.splitlines():
        series = json.loads(line)
        name = str(series["metric"]["__name__"]).removeprefix(f"{SAMPLE}_")
        for at_ms, value in zip(series["timestamps"], series["values"], strict=True):
            if at_ms in points[name]:
                raise ValueError(f"two points of {name} at {at_ms}")
            points[name][int(at_ms)] = float(value)
    return points


def _from_influxql(document: dict[str, Any]) -> Points:
    points: dict[str, dict[int, float]] = defaultdict(dict)
    for result in document["results"]:
        for series in result.get("series", []):
            columns = series["columns"]
            for row in series["values"]:
                at_ms = int(row[columns.index("time")])
                for name, value in zip(columns, row, strict=True):
                    if name not in ("time", "joint", "rig") and value is not None:
                        points[name][at_ms] = float(value)
    return points
