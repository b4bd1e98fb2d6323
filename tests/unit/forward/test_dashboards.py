"""The ready dashboards are JSON that asks only for what is sent."""

import json
import re
from importlib.resources import files

import pytest

from logger.domain.sample import Sample
from logger.forward.lines import MEASUREMENTS, joint_points, sample_point, series_of
from tests.unit.export.dossiers import dossier_of_trace

DASHBOARDS = sorted((files("configs") / "grafana").iterdir(), key=lambda file: file.name)


def queries_in(document):
    if isinstance(document, dict):
        for key, value in document.items():
            if key in ("query", "expr") and isinstance(value, str):
                yield value
            else:
                yield from queries_in(value)
    elif isinstance(document, list):
        for value in document:
            yield from queries_in(value)


@pytest.fixture(scope="module")
def known(trace_of_scenario, demo_joint_file):
    """Names that the lines of a joint use: measurements, tags and fields."""
    dossier = dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file)
    series = series_of(dossier.record, "rig")
    points = list(joint_points(series, dossier.record, dossier.judgement, "head"))
    points.append(sample_point(series, Sample(t_s=0.0, pressure_bar=1.0, plate_temperature_degC=1.0)))
    names = {*MEASUREMENTS, "rig", "joint", "project", "operator"}
    for point in points:
        names |= set(point.fields) | ({point.tag[0]} if point.tag else set())
        names |= {f"{point.measurement}_{field}" for field in point.fields}
    return names


@pytest.mark.parametrize("file", DASHBOARDS, ids=lambda file: file.name)
def test_a_dashboard_asks_for_what_is_sent_and_for_nothing_else(file, known):
    document = json.loads(file.read_text())
    assert document["title"].startswith("Beadwatch")
    identities = [panel["id"] for panel in document["panels"]]
    assert len(set(identities)) == len(identities) > 0
    # InfluxQL puts names in quotes; in MetricsQL a name is measurement and field, and quotes hold values.
    name_in = r"\bbeadwatch_\w+" if "prometheus" in file.read_text() else r'"([^"]+)"'
    asked = {name for query in queries_in(document) for name in re.findall(name_in, query)}
    assert asked
    assert asked <= known, asked - known
    for panel in document["panels"]:
        box = panel["gridPos"]
        assert box["x"] + box["w"] <= 24


def test_gaps_are_not_drawn_as_lines():
    for file in DASHBOARDS:
        assert '"spanNulls": true' not in file.read_text()


def test_there_are_four():
    assert [file.name for file in DASHBOARDS] == [
        "fleet.json",
        "joint.json",
        "live.json",
        "victoria-metrics.json",
    ]
