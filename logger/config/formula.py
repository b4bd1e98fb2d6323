"""Formula text of a procedure file to a tree of `logger.domain.procedure`; a closed language, never `eval`.

9.5 + 0.5 * wall                          + - * / and brackets, numbers
min(wall, 10)   max(3, 0.1 * wall)        any number of arguments
when(wall < 18, wall + 3, 20)             a piece; comparisons < <= > >=
guide.cooling_min                         a column of a table of the same file
not_given                                 alone, or as a whole branch of when()
"""

from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from typing import TYPE_CHECKING, Any

from logger.domain.procedure import (
    Choice,
    Column,
    Comparison,
    Expression,
    Number,
    Operation,
    Operator,
    Variable,
)

if TYPE_CHECKING:
    from lark import Lark, Token

_GRAMMAR = r"""
    ?start: sum
    ?sum: product
        | sum "+" product -> add
        | sum "-" product -> subtract
    ?product: factor
        | product "*" factor -> multiply
        | product "/" factor -> divide
    ?factor: atom
        | "-" factor -> negate
    ?atom: NUMBER -> number
        | "not_given" -> not_given
        | "when" "(" sum COMPARISON sum "," sum "," sum ")" -> when
        | NAME "." NAME -> column
        | NAME -> variable
        | "min" "(" sum ("," sum)+ ")" -> minimum
        | "max" "(" sum ("," sum)+ ")" -> maximum
        | "(" sum ")"
    COMPARISON: "<=" | ">=" | "<" | ">"
    NAME: /[a-z][a-z0-9_]*/
    %import common.NUMBER
    %ignore /[ \t\n]+/
"""
_DEEPEST = 40
_LONGEST = 500

Tables = Mapping[str, Mapping[str, Column]]


def parse_formula(text: str, tables: Tables) -> Expression:
    """Parse one formula; names are the variables of `Variable` or `TABLE.COLUMN` of `tables`.

    Raises:
        ValueError: one line saying what is wrong and the nearest valid name.
    """
    from lark.exceptions import UnexpectedInput, UnexpectedToken

    if len(text) > _LONGEST or text.count("(") > _DEEPEST:
        raise ValueError(f"a formula has at most {_LONGEST} characters and {_DEEPEST} brackets")
    try:
        return _build(_parser().parse(text), tables)
    except UnexpectedInput as error:
        is_end = isinstance(error, UnexpectedToken) and error.token.type == "$END"
        at = "at its end" if is_end else f"at character {error.column}"
        raise ValueError(f'"{text}" is not a formula: unexpected {at}') from None


@cache
def _parser() -> "Lark":
    from lark import Lark

    return Lark(_GRAMMAR, parser="lalr", maybe_placeholders=False)


_BINARY = {
    "add": Operator.ADD, "subtract": Operator.SUBTRACT, "multiply": Operator.MULTIPLY,
    "divide": Operator.DIVIDE, "minimum": Operator.MINIMUM, "maximum": Operator.MAXIMUM,
}  # fmt: skip


def _build(tree: Any, tables: Tables) -> Expression:
    kind = str(tree.data)
    if kind == "not_given":
        return Number(None)
    if kind == "number":
        return Number(float(tree.children[0]))
    if kind == "variable":
        return _variable(tree.children[0])
    if kind == "column":
        return _column(tree.children[0], tree.children[1], tables)
    if kind == "when":
        left, comparison, *others = tree.children
        right, then, otherwise = (_build(part, tables) for part in others)
        return _choice(str(comparison), _build(left, tables), right, then, otherwise)
    parts = [_build(child, tables) for child in tree.children]
    if kind == "negate":
        return folded(Operator.SUBTRACT, Number(0.0), parts[0])
    result = parts[0]
    for part in parts[1:]:
        result = folded(_BINARY[kind], result, part)
    return result


def _choice(
    sign: str, left: Expression, right: Expression, then: Expression, otherwise: Expression
) -> Choice:
    if _may_be_missing(left) or _may_be_missing(right):
        raise ValueError("not_given cannot be part of a calculation")
    return Choice(left, Comparison(sign), right, then, otherwise)


def folded(operator: Operator, left: Expression, right: Expression) -> Expression:
    """Join two trees; two constants become one, so that a plan repeats no constant arithmetic."""
    if _may_be_missing(left) or _may_be_missing(right):
        raise ValueError("not_given cannot be part of a calculation")
    if isinstance(left, Number) and isinstance(right, Number):
        return Number(_constant(operator, left.value or 0.0, right.value or 0.0))
    return Operation(operator, left, right)


def _may_be_missing(tree: Expression) -> bool:
    if isinstance(tree, Choice):
        return _may_be_missing(tree.then) or _may_be_missing(tree.otherwise)
    return isinstance(tree, Number) and tree.value is None


def _constant(operator: Operator, a: float, b: float) -> float:
    match operator:
        case Operator.ADD:
            return a + b
        case Operator.SUBTRACT:
            return a - b
        case Operator.MULTIPLY:
            return a * b
        case Operator.DIVIDE:
            if b == 0:
                raise ValueError("division by zero")
            return a / b
        case Operator.MINIMUM:
            return min(a, b)
        case Operator.MAXIMUM:
            return max(a, b)


def _variable(name: "Token") -> Variable:
    try:
        return Variable(str(name))
    except ValueError:
        raise ValueError(f'unknown name "{name}"{nearest(str(name), [*Variable])}') from None


def _column(table: "Token", column: "Token", tables: Tables) -> Column:
    if str(table) not in tables:
        raise ValueError(f'unknown table "{table}"{nearest(str(table), list(tables))}')
    columns = tables[str(table)]
    if str(column) not in columns:
        raise ValueError(f'unknown column "{table}.{column}"{nearest(str(column), list(columns))}')
    return columns[str(column)]


def nearest(name: str, choices: list[str]) -> str:
    """Return `; nearest: X`, or the whole choice where nothing is near and it is short."""
    near = get_close_matches(name, choices, n=2, cutoff=0.5)
    if near:
        return f"; nearest: {', '.join(near)}"
    return f"; known: {', '.join(choices)}" if choices and len(choices) <= 12 else ""
