"""The formula language of procedure files: closed, total, and clear about what is wrong."""

import pytest

from logger.config.formula import parse_formula
from logger.domain.procedure import Column, Formula, Number, Row, Variable
from logger.errors import ProcedureRefusal
from logger.plan.evaluate import Inputs, value_of

ROWS = (Row(0.0, 5.0, 1.0, 1.0), Row(5.0, 10.0, 1.0, 3.0), Row(10.0, 20.0, 5.0, 5.0))
TABLES = {
    "guide": {"lower": Column(Variable.WALL, ROWS), "upper": Column(Variable.WALL, ROWS, edge_to_upper=True)}
}


def value(text: str, wall: float = 10.0) -> float | None:
    formula = Formula(text=text, unit="1", tree=parse_formula(text, TABLES))
    return value_of(
        formula, Inputs(wall=wall, diameter=110.0, sdr=11.0, wall_in=wall / 25.4, diameter_in=4.3)
    )


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("1 + 2 * 3", 7.0),
        ("(1 + 2) * 3", 9.0),
        ("10 - 4 - 3", 3.0),
        ("24 / 4 / 2", 3.0),
        ("-wall + 2", -8.0),
        ("0.015 * wall * wall - 0.47 * wall + 20", 16.8),
        ("min(wall, 3, 7)", 3.0),
        ("max(0.1 * diameter, wall)", 11.0),
        ("when(wall < 10, 1, 2)", 2.0),
        ("when(wall <= 10, 1, 2)", 1.0),
        ("when(wall > 10, 1, when(wall >= 10, 3, 4))", 3.0),
        ("1e1", 10.0),
        ("2 * when(wall < 18, wall + 3, 20)", 26.0),
        ("1/32", 0.03125),
        ("not_given", None),
        ("when(wall < 20, not_given, 1)", None),
    ],
)
def test_value(text: str, result: float | None) -> None:
    assert value(text) == (None if result is None else pytest.approx(result))


@pytest.mark.parametrize(
    ("wall", "lower", "upper"),
    [(0, 1, 1), (5, 1, 1), (7.5, 2, 2), (10, 3, 5), (10.001, 5, 5), (20, 5, 5)],
)
def test_a_shared_edge_belongs_to_one_row(wall: float, lower: float, upper: float) -> None:
    assert value("guide.lower", wall) == pytest.approx(lower)
    assert value("guide.upper", wall) == pytest.approx(upper)


def test_outside_its_rows_a_table_refuses() -> None:
    with pytest.raises(ProcedureRefusal) as refused:
        value("guide.lower", 20.5)
    assert refused.value.code == "table.ended"
    assert refused.value.parameters == {"variable": "wall", "value": 20.5, "min": 0.0, "max": 20.0}


@pytest.mark.parametrize("text", ["1 / (wall - 10)", "1e308 * wall", "1e308 * wall - 1e308 * wall"])
def test_a_formula_without_a_value_refuses(text: str) -> None:
    with pytest.raises(ProcedureRefusal, match=r"formula\.undefined"):
        value(text)


def test_constants_are_worked_out_once() -> None:
    assert parse_formula("2 * 3 + 4", {}) == Number(10.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("wal * 10", 'unknown name "wal"; nearest: wall, wall_in'),
        ("gide.lower", 'unknown table "gide"; nearest: guide'),
        ("guide.lowr", 'unknown column "guide.lowr"; nearest: lower'),
        ("1 +", '"1 +" is not a formula: unexpected at its end'),
        ("10 ** wall", '"10 ** wall" is not a formula: unexpected at character 5'),
        ("__import__('os')", "\"__import__('os')\" is not a formula: unexpected at character 1"),
        ("wall.__class__", '"wall.__class__" is not a formula: unexpected at character 6'),
        ("open(wall)", '"open(wall)" is not a formula: unexpected at character 5'),
        ("1 / 0", "division by zero"),
        ("not_given + 1", "not_given cannot be part of a calculation"),
        ("2 * when(wall < 3, not_given, 1)", "not_given cannot be part of a calculation"),
        ("when(not_given < 3, 1, 2)", "not_given cannot be part of a calculation"),
        ("", '"" is not a formula: unexpected at its end'),
        ("(" * 41 + "1" + ")" * 41, "a formula has at most 500 characters and 40 brackets"),
    ],
)
def test_what_is_no_formula_says_why(text: str, message: str) -> None:
    with pytest.raises(ValueError) as wrong:  # noqa: PT011 - the whole message is compared
        parse_formula(text, TABLES)
    assert str(wrong.value) == message


def test_a_chain_of_signs_is_bounded() -> None:
    with pytest.raises(ValueError, match="at most"):
        parse_formula("-" * 501 + "1", {})
