"""Value of a formula for one joint. Total: a tree ends in a number, `None` or a named refusal."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping
from operator import add, ge, gt, le, lt, mul, sub, truediv

from logger.domain.notices import RefusalCode
from logger.domain.procedure import (
    Choice,
    Column,
    Comparison,
    Expression,
    Formula,
    Number,
    Operation,
    Operator,
    Row,
    Variable,
)
from logger.errors import ProcedureRefusal

Inputs = Mapping[Variable, float]

_OPERATION: dict[Operator, Callable[[float, float], float]] = {
    Operator.ADD: add, Operator.SUBTRACT: sub, Operator.MULTIPLY: mul, Operator.DIVIDE: truediv,
    Operator.MINIMUM: min, Operator.MAXIMUM: max,
}  # fmt: skip
_HOLDS = {Comparison.BELOW: lt, Comparison.AT_MOST: le, Comparison.ABOVE: gt, Comparison.AT_LEAST: ge}


def value_of(formula: Formula | None, inputs: Inputs) -> float | None:
    """Return the value in the domain unit, `None` where the procedure gives none.

    Raises:
        ProcedureRefusal: `table.ended` outside a table's rows, `ambient.missing` where ambient is asked for,
            `formula.undefined` on a division by zero.
    """
    if formula is None:
        return None
    try:
        return _value(formula.tree, inputs)
    except ZeroDivisionError:
        raise ProcedureRefusal(RefusalCode.FORMULA_UNDEFINED) from None


def _value(tree: Expression, inputs: Inputs) -> float | None:
    match tree:
        case Number():
            return tree.value
        case Variable():
            return _input(tree, inputs)
        case Operation():
            left, right = _number(tree.left, inputs), _number(tree.right, inputs)
            return _OPERATION[tree.operator](left, right)
        case Choice():
            holds = _HOLDS[tree.comparison](_number(tree.left, inputs), _number(tree.right, inputs))
            return _value(tree.then if holds else tree.otherwise, inputs)
        case Column():
            return _cell(tree, _input(tree.over, inputs))


def _number(tree: Expression, inputs: Inputs) -> float:
    value = _value(tree, inputs)
    if value is None:
        raise ValueError("not_given inside a formula")
    return value


def _input(variable: Variable, inputs: Inputs) -> float:
    try:
        return inputs[variable]
    except KeyError:
        raise ProcedureRefusal(RefusalCode.AMBIENT_MISSING) from None


def _cell(column: Column, at: float) -> float:
    rows = column.rows
    if not rows[0].low <= at <= rows[-1].high:
        raise ProcedureRefusal(
            RefusalCode.TABLE_ENDED,
            {"variable": column.over, "value": at, "min": rows[0].low, "max": rows[-1].high},
        )
    if column.edge_to_upper:
        row = rows[max(0, bisect_right(rows, at, key=_low) - 1)]
    else:
        row = rows[min(len(rows) - 1, bisect_left(rows, at, key=_high))]
    if row.at_low == row.at_high:
        return row.at_low
    return row.at_low + (row.at_high - row.at_low) * (at - row.low) / (row.high - row.low)


def _low(row: Row) -> float:
    return row.low


def _high(row: Row) -> float:
    return row.high
