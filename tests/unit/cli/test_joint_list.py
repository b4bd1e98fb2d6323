"""The list names what an inspector asks for: badge, place, software, calibrations that were overdue."""

import csv
import json
from dataclasses import replace

import pytest

from logger.domain.rig import Origin
from logger.store.reader import Reader
from logger.wording.joint_list_text import joint_label
from tests.unit.cli.command import command_of
from tests.unit.store.record_values import EMITTED, FINISHED, header, open_writer, sample

ENTERED = """
joint = "A-001"
operator_badge = "0070421"
place = "Weir Lane, chamber 3"
coordinates = [47.5, 8.25]
"""
RIG = {
    "rig": {
        "name": "Heron 160",
        "channels": [
            {"quantity": "pressure", "calibration_due": "2031-05-03"},
            {"quantity": "plate_temperature", "calibration_due": "2031-05-04"},
            {"quantity": "carriage", "calibration_due": ""},
        ],
    }
}
"""The joint was opened on 2031-05-04: a calibration due that day still holds."""


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    known = replace(header(1, "A-001"), joint_toml=ENTERED, rig_json=json.dumps(RIG))
    for opened in known, replace(header(2, "A-002"), joint_toml=None):
        writer.open_joint(opened)
        writer.append(opened.uuid, sample(0))
        writer.close_joint(opened.uuid, FINISHED, EMITTED)
    writer.close()
    return path


def test_json_and_csv_have_badge_place_software_and_what_was_overdue(beadwatch, record):
    lines = beadwatch("joints", "list", "--sort", "number", "--json", "--store", record).out.splitlines()
    first, second = map(json.loads, lines)
    assert (first["operator_badge"], first["place"]) == ("0070421", "Weir Lane, chamber 3")
    assert (first["latitude_deg"], first["longitude_deg"]) == (47.5, 8.25)
    assert (first["rig"], first["software"]) == ("Heron 160", "0.1.0")
    assert first["overdue_calibrations"] == "pressure"
    assert (second["operator_badge"], second["place"], second["overdue_calibrations"]) == ("", "", "")
    shown = beadwatch("joints", "list", "--sort", "number", "--format", "csv", "--store", record).out
    rows = list(csv.DictReader(shown.splitlines()))
    assert [row["operator_badge"] for row in rows] == ["0070421", ""]
    assert rows[0].keys() == first.keys()


def test_the_columns_to_read_have_them_too(beadwatch, record):
    headings, first, second = beadwatch(
        "joints", "list", "--sort", "number", "--store", record
    ).out.splitlines()
    assert "R. Amsel (0070421)" in first
    assert "Weir Lane, chamber 3" in first
    at = headings.index("overdue calibration")
    assert first[at:].startswith("pressure ")
    assert second[at:].startswith("- ")


def test_an_overdue_calibration_stands_in_what_is_shown_of_a_joint(beadwatch, record):
    assert "CALIBRATION OVERDUE when it was opened: pressure" in beadwatch(
        "joints", "show", "A-001", "--store", record
    ).out  # fmt: skip
    assert "OVERDUE" not in beadwatch("joints", "show", "A-002", "--store", record).out


def test_what_is_no_live_joint_says_so_wherever_it_stands_among_others(beadwatch, record):
    counted = beadwatch("joints", "count", "--by", "origin", "--json", "--store", record).out.splitlines()
    assert [json.loads(line) for line in counted] == [{"origin": "simulated", "nonconforming": 2}]
    assert beadwatch("joints", "count", "--origin", "live", "--json", "--store", record).out == ""
    with Reader(record) as reader:
        joint = reader.joint("A-001")
    assert joint_label(joint) == "A-001-1 [simulated x10]"
    live = replace(joint, header=replace(joint.header, origin=Origin.LIVE, time_scale=1.0), number=None)
    assert joint_label(live) == "(unnamed) 00000000-1"
