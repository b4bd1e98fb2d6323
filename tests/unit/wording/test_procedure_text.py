"""A procedure in words: every value with its formula, source and mark."""

import re
from importlib import resources

import pytest

from logger.config.procedures import available_procedures, load_procedure
from logger.wording.plan_text import COLUMNS
from logger.wording.procedure_text import procedure_lines, procedure_list_lines

IDS = sorted(available_procedures())


@pytest.mark.parametrize("procedure_id", IDS)
def test_every_value_and_source_of_the_file_is_listed(procedure_id: str) -> None:
    procedure = load_procedure(procedure_id)
    lines = procedure_lines(procedure)
    assert max(map(len, lines)) <= COLUMNS
    shown = " ".join(" ".join(lines).split())
    name = procedure.file.removeprefix("built-in ")
    text = (resources.files("configs") / "procedures" / name).read_text(encoding="utf-8")
    formulas = re.findall(r'\b(?:min|target|max) = "([^"\n]+)"', text)
    sources = re.findall(r'^\[source\.\w+\]\ntext = "([^"]+)"', text, flags=re.MULTILINE)
    assert sources
    for written in (*formulas, *sources):
        assert " ".join(written.split()) in shown, written


def test_what_is_left_out_is_not_given_and_memory_says_so() -> None:
    text = "\n".join(procedure_lines(load_procedure("iso-21307:2017/single-high")))
    assert "before the pressure test" in text
    assert "not given" in text
    assert "from memory: check against your own copy" in " ".join(text.split())


def test_the_printed_table_is_listed_row_by_row() -> None:
    lines = [" ".join(line.split()) for line in procedure_lines(load_procedure("dvs-2207-1:2005"))]
    assert "wall bead_mm changeover_s build_up_s cooling_min" in lines
    assert "19 to 26 2.5 10 to 12 11 to 14 24 to 32" in lines


def test_two_step_cooling_names_its_walls() -> None:
    lines = procedure_lines(load_procedure("wis-4-32-08"))
    assert "Cooling (walls up to 20 mm)" in lines
    assert lines.count("Cooling (walls above 20 mm)") == 2


def test_the_list_has_one_line_each() -> None:
    lines = procedure_list_lines(available_procedures().values())
    assert len(lines) == len(IDS)
    assert all(any(line.startswith(procedure_id + " ") for line in lines) for procedure_id in IDS)
