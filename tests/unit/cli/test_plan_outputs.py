"""`plan` as card, table and in other units, `procedures`, and a company procedure in every command."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
JOINT = ROOT / "configs" / "examples" / "joint.toml"
RIG = ROOT / "configs" / "demo" / "rig.toml"
COMPANY = ROOT / "configs" / "examples" / "company-procedure.toml"


def beadwatch(*arguments: str | Path, **environment: str) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, "-m", "logger", *map(str, arguments)]
    return subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=ROOT, env={**os.environ, **environment}
    )


@pytest.fixture
def company(tmp_path: Path) -> dict[str, str]:
    folder = tmp_path / "procedures"
    folder.mkdir()
    (folder / "own.toml").write_text(COMPANY.read_text(encoding="utf-8"), encoding="utf-8")
    return {"BEADWATCH_PROCEDURES": str(folder)}


def company_joint(tmp_path: Path) -> Path:
    text = JOINT.read_text(encoding="utf-8")
    path = tmp_path / "joint.toml"
    path.write_text(text.replace("dvs-2207-1:2015", "lower-weir-works:1"), encoding="utf-8")
    return path


def test_the_card_is_one_a5_page_in_two_forms_and_the_same_bytes_each_time(tmp_path):
    first = beadwatch("plan", JOINT, "--card", "--out", tmp_path)
    assert first.returncode == 0
    pdf, text = (Path(line) for line in first.stdout.splitlines())
    content = pdf.read_bytes()
    assert content.count(b"/Type /Page\n") == 1
    assert b"/MediaBox [ 0 0 419.5276 595.2756 ]" in content
    assert b"/Helvetica" not in content, "a font that is not embedded"
    beadwatch("plan", JOINT, "--card", "--out", tmp_path)
    assert pdf.read_bytes() == content
    words = text.read_text(encoding="utf-8")
    for needed in ("CAUTIONS", "SOURCES", "HEAT SOAK", "does not certify", "FROM MEMORY"):
        assert needed in words


def test_the_table_has_a_row_for_each_standard_pipe_in_scope():
    result = beadwatch("plan", JOINT, "--table")
    assert result.returncode == 0
    row = next(line.split() for line in result.stdout.splitlines() if line.split()[:2] == ["180", "11"])
    plan = json.loads(beadwatch("plan", JOINT, "--json").stdout)
    soak = next(step for step in plan["steps"] if step["phase"] == "heat_soak")
    assert row[2] == "16.4"
    assert row[5] == f"{soak['duration_s']['target']:.0f}"


def test_units_are_chosen_by_the_user():
    metric = beadwatch("plan", JOINT).stdout
    inch = beadwatch("plan", JOINT, "--pressure", "psi", "--length", "in", "--temperature", "degF").stdout
    assert "degC" in metric
    assert "degF" in inch
    assert "psi" in inch
    assert " bar" not in inch.split("Cautions")[0]


def test_with_a_rig_the_plan_says_what_its_sensors_can_decide():
    result = beadwatch("plan", JOINT, "--rig", RIG)
    assert result.returncode == 0
    assert "changeover duration         can be decided" in result.stdout
    assert "no uncertainty of the sensor is declared" in result.stdout


def test_every_procedure_lists_its_sources():
    listed = beadwatch("procedures", "list").stdout.splitlines()
    assert len(listed) == 12
    for line in listed:
        shown = beadwatch("procedures", "show", line.split()[0])
        assert shown.returncode == 0
        assert "(seen)" in shown.stdout or "from memory" in shown.stdout


def test_an_unknown_procedure_is_refused_with_the_nearest():
    result = beadwatch("procedures", "show", "uni-10502")
    assert result.returncode == 3
    assert "uni-10520" in result.stderr
    assert result.stdout == ""


def test_a_company_procedure_plans_and_judges(tmp_path, company, trace_of_scenario):
    joint = company_joint(tmp_path)
    plan = beadwatch("plan", joint, "--json", **company)
    assert plan.returncode == 0
    assert json.loads(plan.stdout)["procedure"] == "lower-weir-works:1"
    assert "lower-weir-works:1" in beadwatch("procedures", "list", **company).stdout
    trace = trace_of_scenario("clean")
    judged = beadwatch("judge", trace, joint, "--json", **company)
    assert judged.returncode in (10, 11), "the clean curve was made to another plan"
    assert json.loads(judged.stdout)["plan"]["procedure"] == "lower-weir-works:1"


def test_a_company_procedure_overrides_nothing_silently(tmp_path, company):
    own = Path(company["BEADWATCH_PROCEDURES"]) / "own.toml"
    text = own.read_text(encoding="utf-8").replace("lower-weir-works:1", "uni-10520")
    own.write_text(text, encoding="utf-8")
    joint = tmp_path / "joint.toml"
    joint.write_text(
        JOINT.read_text(encoding="utf-8").replace("dvs-2207-1:2015", "uni-10520"), encoding="utf-8"
    )
    for result in (
        beadwatch("plan", joint, **company),
        beadwatch("procedures", "show", "uni-10520", **company),
    ):
        assert result.returncode == 3
        assert "own.toml" in result.stderr
        assert "uni-10520" in result.stderr
    assert beadwatch("plan", JOINT, **company).returncode == 0
    assert "own.toml" in beadwatch("procedures", "list", **company).stderr
