"""Value of a formula for one joint. Total: a tree ends in a number, `None` or a named refusal."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from operator import add, attrgetter, ge, gt, le, lt, mul, sub, truediv
from typing import Any

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
    Variable,
)
from logger.errors import ProcedureRefusal


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What formulas may speak of, named as `Variable` names it; None where it is not known."""

    wall: float
    diameter: float
    sdr: float
    wall_in: float
    diameter_in: float
    ambient: float | None = None
    melt_flow: float | None = None

    def of(self, variable: Variable) -> float:
        """Raises ProcedureRefusal where the ambient temperature is asked for and not known."""
        value: float | None = getattr(self, variable)
        if value is None:
            raise ProcedureRefusal(RefusalCode.AMBIENT_MISSING)
        return value


# Keyed by the text of the member: hashing a str is several times faster than hashing an enum member.
_OPERATION: dict[str, Callable[[float, float], float]] = {
    Operator.ADD.value: add, Operator.SUBTRACT.value: sub, Operator.MULTIPLY.value: mul,
    Operator.DIVIDE.value: truediv, Operator.MINIMUM.value: min, Operator.MAXIMUM.value: max,
}  # fmt: skip
_HOLDS: dict[str, Callable[[float, float], bool]] = {
    Comparison.BELOW.value: lt, Comparison.AT_MOST.value: le,
    Comparison.ABOVE.value: gt, Comparison.AT_LEAST.value: ge,
}  # fmt: skip
_LOW, _HIGH = attrgetter("low"), attrgetter("high")


def value_of(formula: Formula | None, inputs: Inputs) -> float | None:
    """Return the value in the domain unit, `None` where the procedure gives none.

    Raises:
        ProcedureRefusal: `table.ended` outside a table's rows, `ambient.missing` where ambient is asked for,
            `formula.undefined` on a division by zero or a number beyond all bounds.
    """
    if formula is None:
        return None
    try:
        value = _value(formula.tree, inputs)
    except ZeroDivisionError:
        raise ProcedureRefusal(RefusalCode.FORMULA_UNDEFINED) from None
    if value is not None and not math.isfinite(value):
        raise ProcedureRefusal(RefusalCode.FORMULA_UNDEFINED)
    return value


def _value(tree: Expression, inputs: Inputs) -> float | None:
    return _EVALUATE[type(tree)](tree, inputs)


def _number(tree: Number, inputs: Inputs) -> float | None:
    return tree.value


def _variable(tree: Variable, inputs: Inputs) -> float:
    return inputs.of(tree)


def _operation(tree: Operation, inputs: Inputs) -> float:
    return _OPERATION[tree.operator.value](_known(tree.left, inputs), _known(tree.right, inputs))


def _choice(tree: Choice, inputs: Inputs) -> float | None:
    holds = _HOLDS[tree.comparison.value](_known(tree.left, inputs), _known(tree.right, inputs))
    return _value(tree.then if holds else tree.otherwise, inputs)


def _column(tree: Column, inputs: Inputs) -> float:
    rows, at = tree.rows, inputs.of(tree.over)
    if not rows[0].low <= at <= rows[-1].high:
        raise ProcedureRefusal(
            RefusalCode.TABLE_ENDED,
            {"variable": tree.over, "value": at, "min": rows[0].low, "max": rows[-1].high},
        )
    index = bisect_right(rows, at, key=_LOW) - 1 if tree.edge_to_upper else bisect_left(rows, at, key=_HIGH)
    row = rows[index]
    if row.at_low == row.at_high:
        return row.at_low
    return row.at_low + (row.at_high - row.at_low) * (at - row.low) / (row.high - row.low)


def _known(tree: Expression, inputs: Inputs) -> float:
    value = _EVALUATE[type(tree)](tree, inputs)
    if value is None:
        raise ValueError("not_given inside a calculation; the loader refuses such a formula")
    return value


_EVALUATE: dict[type, Callable[[Any, Inputs], float | None]] = {
    Number: _number, Variable: _variable, Operation: _operation, Choice: _choice, Column: _column,
}  # fmt: skip
