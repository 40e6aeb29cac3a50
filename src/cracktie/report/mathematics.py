"""Formulas as mathematics: an expression tree written as presentation MathML or as typst source.

Both are written by one walk over the tree (`_Walk`) that decides fractions, roots, brackets and multiplication marks;
`notation` knows the syntax of either language.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from cracktie import symbols
from cracktie.expression import (
    ATOM,
    COMPARE,
    MARKS,
    NEGATIVE,
    NOT,
    POWER,
    PRODUCT,
    SUM,
    Call,
    Choice,
    Coefficient,
    Expression,
    Name,
    Number,
    Operation,
    Unary,
    fraction_of,
    leaves,
    taken_sides,
)
from cracktie.report.notation import MathML, Typst, Writer
from cracktie.report.numbers import power_of_ten, short, significant

WIDE = 46
"""Width in characters, roughly, beyond which a sum or product is offered for breaking into several pieces."""

_SIGNS = {"+": "+", "-": "−", "<": "<", "<=": "≤", ">": ">", ">=": "≥", "==": "=", "!=": "≠", ".": "⋅"}
_PI = {times * math.pi / under: (times, under) for times, under in ((1, 1), (2, 1), (4, 1), (1, 2), (1, 4))}
_FUNCTION_TEXT = {"log": "ln", "sign": "sgn"}
_ANGLE_OF = ("sin", "cos", "tan")
_ARCS = ("arcsin", "arccos", "arctan", "arctan2")


@dataclass(frozen=True)
class _Walk:
    """One way to write a tree: `numbers` puts the recorded values in place of names."""

    out: Writer
    numbers: bool = False

    def inside(self, tree: Expression, least: int, degrees: bool = False) -> str:
        body, strength = self.write(tree, degrees)
        return self.out.fenced(body) if strength < least else body

    def write(self, tree: Expression, degrees: bool = False) -> tuple[str, int]:
        """Source text and binding strength; `degrees` marks shown numbers as degrees."""
        match tree:
            case Number(value) | Coefficient(_, value):
                return self.literal(value, degrees)
            case Name(name, value):
                if self.numbers:
                    return self.digits(short(value), degrees)
                return self.name(name)
            case Operation():
                return self.operation(tree, degrees)
            case Unary(mark, operand):
                if mark == "not":
                    return self.out.row(self.out.words("not "), self.inside(operand, NOT)), NOT
                return self.out.row(self.out.sign("−"), self.inside(operand, NEGATIVE, degrees)), NEGATIVE
            case Call():
                return self.call(tree)
            case Choice():
                return self.choice(tree)

    def name(self, name: str) -> tuple[str, int]:
        shown = symbols.plain(name)
        if shown.startswith("√"):
            return self.out.root(self.one(shown[1:])), ATOM
        over, slash, under = shown.partition("/")
        if slash and over and under:
            return self.out.row(self.one(over), self.out.sign("/"), self.one(under)), SUM
        return self.one(shown), ATOM

    def one(self, shown: str) -> str:
        base, _, index = shown.partition("_")
        return self.out.symbol(base, index.replace("_", ","))

    def literal(self, value: float, degrees: bool = False) -> tuple[str, int]:
        if value in _PI:
            times, under = _PI[value]
            pi = self.out.symbol("π", "")
            above = self.out.row(self.out.number(str(times)), self.out.thin(), pi) if times > 1 else pi
            if under == 1:
                return above, PRODUCT if times > 1 else ATOM
            return self.out.fraction(above, self.out.number(str(under))), POWER
        part = fraction_of(value)
        if part is not None:
            body = self.out.fraction(self.out.number(str(abs(part.numerator))), self.out.number(str(part.denominator)))
            return (self.out.row(self.out.sign("−"), body), NEGATIVE) if value < 0 else (body, POWER)
        given = f"{value:.10g}"
        return self.digits(given if float(given) == value else significant(value, 7), degrees)

    def digits(self, shown: str, degrees: bool = False) -> tuple[str, int]:
        mantissa, exponent = power_of_ten(shown)
        body, strength = self.out.number(mantissa.lstrip("-") + ("°" if degrees else "")), ATOM
        if exponent is not None:
            ten, _ = self.digits(str(exponent))
            body = self.out.row(body, self.out.sign(_SIGNS["."]), self.out.power(self.out.number("10"), ten))
            strength = POWER
        if mantissa.startswith("-"):
            return self.out.row(self.out.sign("−"), body), NEGATIVE
        return body, strength

    def operation(self, tree: Operation, degrees: bool) -> tuple[str, int]:
        mark, left, right = tree.mark, tree.left, tree.right
        if mark == "/":
            return self.out.fraction(self.write(left)[0], self.write(right)[0]), POWER
        if mark == "^":
            return self.raised(left, right)
        if mark == "*":
            first, second = self.inside(left, PRODUCT, degrees), self.inside(right, NEGATIVE, degrees)
            between = self.out.sign(_SIGNS["."]) if self.dotted(right) else self.out.thin()
            return self.out.row(first, between, second), PRODUCT
        strength = MARKS[mark][1]
        above = strength + (strength == COMPARE)
        first = self.inside(left, above, degrees)
        second = self.inside(right, strength + (mark not in ("+", "and", "or")), degrees)
        joint = self.out.words(f" {mark} ") if mark in ("and", "or") else self.out.sign(_SIGNS[mark])
        return self.out.row(first, joint, second), strength

    def dotted(self, right: Expression) -> bool:
        """Whether a factor needs a dot before it: letters stand side by side, numbers and brackets do not."""
        return self.numbers or self.write(right)[1] < NEGATIVE or _begins_with_number(right)

    def raised(self, base: Expression, exponent: Expression) -> tuple[str, int]:
        if exponent == Number(0.5):
            return self.out.root(self.write(base)[0]), ATOM
        part = fraction_of(exponent.value) if isinstance(exponent, Number) else None
        if part is not None:
            written = self.slashed(part.numerator, part.denominator)
        elif isinstance(exponent, Operation) and exponent.mark == "/":
            pieces = (self.inside(exponent.left, NEGATIVE), self.inside(exponent.right, NEGATIVE))
            written = self.out.row(pieces[0], self.out.sign("/"), pieces[1])
        else:
            written = self.write(exponent)[0]
        return self.out.power(self.inside(base, ATOM), written), POWER

    def slashed(self, over: int, under: int) -> str:
        first, _ = self.digits(str(over))
        return self.out.row(first, self.out.sign("/"), self.out.number(str(under)))

    def call(self, tree: Call) -> tuple[str, int]:
        name, arguments = tree.function, tree.arguments
        if name == "sqrt":
            return self.out.root(self.write(arguments[0])[0]), ATOM
        if name == "cbrt":
            return self.out.root(self.write(arguments[0])[0], "3"), ATOM
        if name == "abs":
            return self.out.fenced(self.write(arguments[0])[0], "|"), ATOM
        if name == "degrees" and isinstance(arguments[0], Call) and arguments[0].function in _ARCS:
            return self.named(arguments[0])
        if name in ("radians", "degrees"):
            return self.turned(self.inside(arguments[0], PRODUCT), name)
        if name in _ARCS:
            return self.turned(self.named(tree)[0], "radians")
        angle = arguments[0]
        if name in _ANGLE_OF and isinstance(angle, Call) and angle.function == "radians":
            return self.out.function(name, "", [self.write(angle.arguments[0], degrees=True)[0]]), POWER
        if name in _ANGLE_OF and not _is_plainly_an_angle(angle):
            return self.out.function(
                name, "", [self.out.row(self.inside(angle, NEGATIVE), self.out.words(" rad"))]
            ), POWER
        if name in _ANGLE_OF and isinstance(angle, Call) and angle.function in _ARCS:
            return self.out.function(name, "", [self.named(angle)[0]]), POWER
        return self.named(tree)

    def turned(self, angle: str, into: str) -> tuple[str, int]:
        """An angle turned into radians or degrees: on the page an arc is in degrees, as every angle without a mark."""
        pi, half_turn = self.out.symbol("π", ""), self.out.number("180")
        over, under = (pi, half_turn) if into == "radians" else (half_turn, pi)
        return self.out.row(angle, self.out.sign(_SIGNS["."]), self.out.fraction(over, under)), PRODUCT

    def named(self, tree: Call) -> tuple[str, int]:
        """A function by its name."""
        name, arguments = tree.function, tree.arguments
        shown, index = ("log", "10") if name == "log10" else (_FUNCTION_TEXT.get(name, name), "")
        return self.out.function(shown, index, [self.write(a)[0] for a in arguments]), POWER

    def choice(self, tree: Choice) -> tuple[str, int]:
        rows: list[tuple[str, str]] = []
        rest: Expression = tree
        while isinstance(rest, Choice):
            condition = self.out.row(self.out.words("if "), self.write(rest.condition)[0])
            rows.append((self.write(rest.yes)[0], condition))
            rest = rest.no
        rows.append((self.write(rest)[0], self.out.words("otherwise")))
        return self.out.cases(rows), SUM

    def pieces(self, tree: Expression) -> list[str]:
        """The formula whole, or a wide sum or product cut before its marks."""
        chain = _chain(tree) if width(tree, self.numbers) > WIDE else [("", tree)]
        if len(chain) == 1:
            return [self.write(tree)[0]]
        strength = SUM if chain[1][0] in ("+", "-") else PRODUCT
        parts = [self.inside(chain[0][1], strength)]
        for mark, part in chain[1:]:
            body = self.inside(part, strength + (mark != "+"))
            if mark == "*":
                joint = self.out.leading(_SIGNS["."]) if self.dotted(part) else self.out.thin()
            else:
                joint = self.out.leading(_SIGNS[mark])
            parts.append(self.out.row(joint, body))
        return parts


def _is_plainly_an_angle(tree: Expression) -> bool:
    """An arc or a multiple of π needs no unit of angle."""
    if isinstance(tree, Call) and tree.function in _ARCS:
        return True
    return any(isinstance(leaf, Number) and leaf.value in _PI for leaf in leaves(tree))


def _begins_with_number(tree: Expression) -> bool:
    if isinstance(tree, Operation):
        return _begins_with_number(tree.left)
    return isinstance(tree, (Number, Coefficient, Choice))


def _chain(tree: Expression) -> list[tuple[str, Expression]]:
    """Terms of a sum or factors of a product with the mark before each."""
    if not isinstance(tree, Operation) or tree.mark not in ("+", "-", "*"):
        return [("", tree)]
    alike = ("*",) if tree.mark == "*" else ("+", "-")
    terms: list[tuple[str, Expression]] = []
    rest: Expression = tree
    while isinstance(rest, Operation) and rest.mark in alike:
        terms.append((rest.mark, rest.right))
        rest = rest.left
    return [("", rest), *reversed(terms)]


def width(tree: Expression, numbers: bool) -> int:
    """Rough width in characters; a fraction is as wide as its wider side."""
    match tree:
        case Operation("/", left, right):
            return max(width(left, numbers), width(right, numbers))
        case Operation(mark, left, right):
            return width(left, numbers) + width(right, numbers) + (0 if mark == "^" else 2)
        case Unary(_, operand):
            return 1 + width(operand, numbers)
        case Call(function, arguments):
            return len(function) + sum(2 + width(a, numbers) for a in arguments)
        case Choice(condition, yes, no, _):
            return max(width(yes, numbers), width(no, numbers)) + width(condition, numbers) + 4
        case Name(name, value):
            return len(short(value)) if numbers else max(1, len(symbols.plain(name)) - 1)
        case Number(value) | Coefficient(_, value):
            return min(len(f"{value:g}"), 8)


def _formula(tree: Expression, out: Writer, numbers: bool) -> tuple[str, ...]:
    shown = taken_sides(tree) if numbers else tree
    return tuple(out.whole(piece) for piece in _Walk(out, numbers).pieces(shown))


def mathml(tree: Expression, numbers: bool = False) -> tuple[str, ...]:
    """`<math>` elements that stand in one line where there is room and may break between each other.

    `numbers` writes the recorded values in place of names and only the side of a choice that was taken.
    """
    return _formula(tree, MathML(), numbers)


def typst_math(tree: Expression, numbers: bool = False) -> tuple[str, ...]:
    """Typst equations, as `mathml`."""
    return _formula(tree, Typst(), numbers)


def symbol_mathml(name: str) -> str:
    """A glossary name as `<math>`; a name without entry upright."""
    return _symbol(name, MathML())


def symbol_typst(name: str) -> str:
    """A glossary name as a typst equation; a name without entry upright."""
    return _symbol(name, Typst())


def _symbol(name: str, out: Writer) -> str:
    return out.whole(_Walk(out).name(name)[0])


def number_mathml(shown: str) -> str:
    """A number as `numbers` writes it: a power of ten becomes a raised exponent."""
    return _shown_number(shown, MathML())


def number_typst(shown: str) -> str:
    """As `number_mathml`, in typst."""
    return _shown_number(shown, Typst())


def _shown_number(shown: str, out: Writer) -> str:
    if shown == "none":
        return out.whole(out.words(shown))
    return out.whole(_Walk(out).digits(shown)[0])


def has_names(tree: Any) -> bool:
    """Whether the numbers of a formula say more than its names: False for a constant or a bare name."""
    return not isinstance(tree, Name) and any(isinstance(leaf, Name) for leaf in leaves(tree))
