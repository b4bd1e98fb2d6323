"""Exports read back by independent readers: the csv module, openpyxl, pyarrow, json."""

import csv
import json
import zipfile
from dataclasses import replace
from io import BytesIO, StringIO

import openpyxl
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.domain.record import Stamp, Statement
from logger.errors import InputError
from logger.export.manifest import AT_ONCE, NAME, ExportFolder
from logger.export.packing import ExportFormat, Made, file_name, joint_file, state_of, table_files
from logger.export.table_files import csv_file, plain, xlsx_file
from logger.export.tables import FINDING_HEADINGS, SAMPLE_HEADINGS, sample_rows
from tests.unit.export.dossiers import OPERATOR, dossier_of_trace

AT = Stamp(mono_ms=5, utc="2031-05-04T08:00:00.000Z")
REMARK = Statement(kind="remark", author="=cmd()", at=AT, body={"text": "rain"}, seq=1)


@pytest.fixture(scope="module")
def dossier(trace_of_scenario, demo_joint_file):
    return dossier_of_trace(trace_of_scenario("slow-changeover"), demo_joint_file, (REMARK,))


MADE = Made(page=lambda _: b"%PDF", sealed=lambda _: "{}\n")


def exported(dossier, form):
    return joint_file(dossier, form, MADE)[1]


def test_csv_gives_every_sample_back_exactly(dossier):
    rows = list(csv.reader(StringIO(exported(dossier, ExportFormat.CSV).decode())))
    assert tuple(rows[0]) == SAMPLE_HEADINGS
    read = [tuple(float(cell) if cell else None for cell in row) for row in rows[1:]]
    assert read == [tuple(row) for row in sample_rows(dossier)]


def test_xlsx_gives_every_sample_back_and_runs_no_formula(dossier):
    book = openpyxl.load_workbook(BytesIO(exported(dossier, ExportFormat.XLSX)))
    rows = list(book["samples"].iter_rows(values_only=True))
    assert rows[0] == SAMPLE_HEADINGS
    assert rows[1:] == list(sample_rows(dossier))
    author = book["statements"].cell(2, 6)
    assert (author.value, author.data_type) == ("=cmd()", "s")
    assert {row[3] for row in book["findings"].iter_rows(min_row=2, values_only=True)} == {
        "changeover.duration.long"
    }


def test_parquet_gives_every_sample_back(dossier):
    table = pq.read_table(BytesIO(exported(dossier, ExportFormat.PARQUET)))
    assert list(zip(*(table[name].to_pylist() for name in SAMPLE_HEADINGS), strict=True)) == list(
        sample_rows(dossier)
    )
    assert table.schema.metadata[b"uuid"].decode() == dossier.record.header.uuid


def test_json_holds_the_joint_whole(dossier):
    document = json.loads(exported(dossier, ExportFormat.JSON))
    assert document["schema"] == "beadwatch.export/1"
    assert document["joint"]["operator"] == OPERATOR
    assert document["statements"][0]["body"] == {"text": "rain"}
    assert len(document["samples"]["scaled"]) == len(dossier.samples)


def test_tables_name_the_joint_in_every_row(dossier):
    files = dict(table_files([dossier], ExportFormat.CSV))
    assert set(files) == {"joints.csv", "phases.csv", "findings.csv", "statements.csv"}
    findings = list(csv.DictReader(StringIO(files["findings.csv"].decode())))
    assert tuple(findings[0]) == FINDING_HEADINGS
    assert findings[0]["uuid"] == dossier.record.header.uuid
    assert next(iter(csv.DictReader(StringIO(files["statements.csv"].decode()))))["author"] == "'=cmd()"
    assert list(table_files([dossier], ExportFormat.JSON)) == []


@given(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=20))
def test_no_cell_begins_like_a_formula(text):
    assert not str(plain(text)).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert str(plain(text)).endswith(text)


@given(st.lists(st.tuples(st.floats(allow_nan=False), st.none() | st.text("ab=+,\"'", max_size=5))))
def test_csv_round_trips_numbers_exactly(rows):
    read = list(csv.reader(StringIO(csv_file(("number", "text"), rows).decode())))[1:]
    assert [float(row[0]) for row in read] == [number for number, _ in rows]


def test_a_workbook_keeps_empty_cells_empty():
    book = openpyxl.load_workbook(BytesIO(xlsx_file({"one": (("a", "b"), [(None, 1.5)])})))
    assert list(book["one"].iter_rows(values_only=True)) == [("a", "b"), (None, 1.5)]


def test_a_name_is_made_of_plain_characters(dossier):
    assert "/" not in file_name(dossier)
    assert file_name(dossier).endswith("00000000")


def test_an_export_goes_on_where_it_broke_off(tmp_path, dossier):
    state = state_of(dossier, ExportFormat.CSV)
    with ExportFolder(tmp_path) as folder:
        assert not folder.holds(state)
        folder.put("a.csv", b"1", joint=state)
    again = ExportFolder(tmp_path)
    assert again.holds(state)
    (tmp_path / "a.csv").write_bytes(b"2")
    assert not again.holds(state)
    (tmp_path / "a.csv").unlink()
    assert not again.holds(state)


def test_the_manifest_follows_before_the_end_and_never_names_what_is_not_there(tmp_path):
    folder = ExportFolder(tmp_path)
    for number in range(AT_ONCE):
        folder.put(f"{number}.csv", b"x")
    named = json.loads((tmp_path / NAME).read_text())["files"]
    assert len(named) == AT_ONCE
    assert all((tmp_path / name).exists() for name in named)


@pytest.mark.parametrize("text", ["{", "[]", '{"schema": "other/1"}', '{"files": {"a": 1}}'])
def test_what_is_no_manifest_is_refused_by_name(tmp_path, text):
    (tmp_path / NAME).write_text(text)
    with pytest.raises(InputError) as caught:
        ExportFolder(tmp_path)
    assert str(tmp_path / NAME) in str(caught.value)


def test_a_bundle_stands_by_itself_and_is_the_same_every_time(dossier):
    data = exported(dossier, ExportFormat.BUNDLE)
    assert data == exported(dossier, ExportFormat.BUNDLE)
    with zipfile.ZipFile(BytesIO(data)) as bundle:
        assert bundle.testzip() is None
        name = file_name(dossier)
        assert set(bundle.namelist()) == {
            *(f"{name}{end}" for end in (".sealed.json", ".csv", ".pdf")),
            "verify_record.py",
            "record-format.md",
            "READ-ME.txt",
        }
        compile(bundle.read("verify_record.py"), "verify_record.py", "exec")
    with_photograph = replace(MADE, attached=lambda _: {"0123456789abcdef.jpg": b"bead"})
    with zipfile.ZipFile(BytesIO(joint_file(dossier, ExportFormat.BUNDLE, with_photograph)[1])) as bundle:
        assert bundle.read("attachments/0123456789abcdef.jpg") == b"bead"
