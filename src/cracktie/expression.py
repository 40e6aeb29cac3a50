"""Formulas as trees: numbers, names, operations and calls, printed as text and evaluated again.

A tree is what a traced model run leaves behind. `text` writes it with names, `substituted` with the numbers the
names had; both are plain Python expressions (with ^ for a power), so that a test can evaluate what is printed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from cracktie.errors import UnknownName

OR, AND, NOT, COMPARE, SUM, PRODUCT, NEGATIVE, POWER, ATOM = range(1, 10)
"""Binding strengths, loosest first; the same order as in Python."""


@dataclass(frozen=True)
class Number:
    """A literal of the source code."""

    value: float


@dataclass(frozen=True)
class Coefficient:
    """A published coefficient: prints as its number, as in the document, and is listed by name."""

    name: str
    value: float


@dataclass(frozen=True)
class Name:
    """An input or an earlier step with the value it had."""

    name: str
    value: float


@dataclass(frozen=True)
class Operation:
    """Two operands joined by one of the marks in `MARKS`."""

    mark: str
    left: Expression
    right: Expression


@dataclass(frozen=True)
class Unary:
    """'-' or 'not' before an operand."""

    mark: str
    operand: Expression


@dataclass(frozen=True)
class Call:
    """A function of one or more arguments; `function` is a key of `FUNCTIONS`."""

    function: str
    arguments: tuple[Expression, ...]


@dataclass(frozen=True)
class Choice:
    """np.where for one case; `taken` tells which side gave the value."""

    condition: Expression
    yes: Expression
    no: Expression
    taken: bool


Expression = Number | Coefficient | Name | Operation | Unary | Call | Choice

MARKS: Mapping[str, tuple[np.ufunc, int]] = {
    "or": (np.logical_or, OR),
    "and": (np.logical_and, AND),
    "<": (np.less, COMPARE),
    "<=": (np.less_equal, COMPARE),
    ">": (np.greater, COMPARE),
    ">=": (np.greater_equal, COMPARE),
    "==": (np.equal, COMPARE),
    "!=": (np.not_equal, COMPARE),
    "+": (np.add, SUM),
    "-": (np.subtract, SUM),
    "*": (np.multiply, PRODUCT),
    "/": (np.true_divide, PRODUCT),
    "^": (np.power, POWER),
}
"""Mark -> (numpy function, binding strength)."""

FUNCTIONS: Mapping[str, np.ufunc] = {
    "min": np.minimum,
    "max": np.maximum,
    "sqrt": np.sqrt,
    "cbrt": np.cbrt,
    "exp": np.exp,
    "log": np.log,
    "log10": np.log10,
    "sin": np.sin,
    "cos": np.cos,
    "tan": np.tan,
    "arcsin": np.arcsin,
    "arccos": np.arccos,
    "arctan": np.arctan,
    "arctan2": np.arctan2,
    "sinh": np.sinh,
    "cosh": np.cosh,
    "tanh": np.tanh,
    "radians": np.radians,
    "degrees": np.degrees,
    "abs": np.absolute,
    "sign": np.sign,
    "hypot": np.hypot,
}
"""Name in printed text -> numpy function."""


def evaluate_expression(tree: Expression, values: Mapping[str, float]) -> float:
    """Value of the tree with each name looked up in `values` (not in the recorded numbers).

    Raises `UnknownName` for a name that `values` lacks.
    """
    with np.errstate(all="ignore"):
        return float(_evaluate(tree, values))


def _evaluate(tree: Expression, values: Mapping[str, float]) -> Any:
    match tree:
        case Number(value) | Coefficient(_, value):
            return value
        case Name(name, _):
            if name not in values:
                raise UnknownName(f"the formula needs {name!r}; given {', '.join(values) or 'nothing'}")
            return values[name]
        case Operation(mark, left, right):
            return MARKS[mark][0](_evaluate(left, values), _evaluate(right, values))
        case Unary(mark, operand):
            inner = _evaluate(operand, values)
            return np.logical_not(inner) if mark == "not" else -inner
        case Call(function, arguments):
            first, *rest = (_evaluate(a, values) for a in arguments)
            if function in ("min", "max"):
                for other in rest:
                    first = FUNCTIONS[function](first, other)
                return first
            return FUNCTIONS[function](first, *rest)
        case Choice(condition, yes, no, _):
            return _evaluate(yes if _evaluate(condition, values) else no, values)


def fraction_of(value: float) -> Fraction | None:
    """The small fraction a float literal stands for (2/3), or None where its decimals are short already."""
    if not np.isfinite(value) or len(f"{value!r}") <= 8:
        return None
    near = Fraction(value).limit_denominator(12)
    return near if near.denominator > 1 and near.numerator / near.denominator == value else None


def exact(value: float) -> str:
    """Shortest decimals that give the float back: 27.0 -> '27', 0.006894757 as it is."""
    shown = repr(float(value))
    return shown[:-2] if shown.endswith(".0") else shown


def text(tree: Expression, show: Callable[[str], str] = str) -> str:
    """The formula with names; `show` may replace a name by its symbol."""
    return _written(tree, lambda name, value: (show(name), ATOM))[0]


def substituted(tree: Expression, number: Callable[[float], str] = exact) -> str:
    """The formula with the recorded numbers in place of names; of a choice only the side taken."""

    def show(name: str, value: float) -> tuple[str, int]:
        shown = number(value)
        return shown, NEGATIVE if shown.startswith("-") else ATOM

    return _written(taken_sides(tree), show)[0]


def taken_sides(tree: Expression) -> Expression:
    """The tree with every choice replaced by the side that gave the value."""
    match tree:
        case Choice(_, yes, no, taken):
            return taken_sides(yes if taken else no)
        case Operation(mark, left, right):
            return Operation(mark, taken_sides(left), taken_sides(right))
        case Unary(mark, operand):
            return Unary(mark, taken_sides(operand))
        case Call(function, arguments):
            return Call(function, tuple(taken_sides(a) for a in arguments))
    return tree


def _literal(value: float) -> tuple[str, int]:
    part = fraction_of(value)
    if part is not None:
        return f"{part.numerator} / {part.denominator}", PRODUCT
    return exact(value), NEGATIVE if value < 0 else ATOM


def _written(tree: Expression, name_as: Callable[[str, float], tuple[str, int]]) -> tuple[str, int]:
    def inside(part: Expression, least: int) -> str:
        shown, strength = _written(part, name_as)
        return f"({shown})" if strength < least else shown

    match tree:
        case Number(value) | Coefficient(_, value):
            return _literal(value)
        case Name(name, value):
            return name_as(name, value)
        case Operation(mark, left, right):
            strength = MARKS[mark][1]
            least_left = strength + (mark == "^" or strength == COMPARE)
            least_right = strength if mark in ("+", "and", "or") else strength + 1
            if mark == "^":
                least_right = NEGATIVE
            return f"{inside(left, least_left)} {mark} {inside(right, least_right)}", strength
        case Unary(mark, operand):
            strength = NOT if mark == "not" else NEGATIVE
            return f"{mark}{' ' if mark == 'not' else ''}{inside(operand, strength)}", strength
        case Call(function, arguments):
            return f"{function}({', '.join(inside(a, 0) for a in arguments)})", ATOM
        case Choice(condition, yes, no, _):
            return f"where({inside(condition, 0)}, {inside(yes, 0)}, {inside(no, 0)})", ATOM


def leaves(tree: Expression) -> Iterator[Number | Coefficient | Name]:
    """Every number, coefficient and name from left to right."""
    match tree:
        case Operation(_, left, right):
            yield from leaves(left)
            yield from leaves(right)
        case Unary(_, operand):
            yield from leaves(operand)
        case Call(_, arguments):
            for argument in arguments:
                yield from leaves(argument)
        case Choice(condition, yes, no, _):
            for part in (condition, yes, no):
                yield from leaves(part)
        case _:
            yield tree
