"""Syntax of the two languages formulas are written in: presentation MathML and typst."""

from __future__ import annotations

import html
from abc import ABC, abstractmethod
from collections.abc import Sequence


class Writer(ABC):
    """Syntax of one language; every method takes and returns source text of that language."""

    @abstractmethod
    def number(self, digits: str) -> str: ...
    @abstractmethod
    def symbol(self, base: str, index: str) -> str: ...
    @abstractmethod
    def sign(self, glyph: str) -> str: ...
    @abstractmethod
    def leading(self, glyph: str) -> str: ...
    @abstractmethod
    def words(self, text: str) -> str: ...
    @abstractmethod
    def thin(self) -> str: ...
    @abstractmethod
    def row(self, *parts: str) -> str: ...
    @abstractmethod
    def fraction(self, above: str, below: str) -> str: ...
    @abstractmethod
    def power(self, base: str, exponent: str) -> str: ...
    @abstractmethod
    def root(self, inside: str, degree: str = "") -> str: ...
    @abstractmethod
    def fenced(self, inside: str, fence: str = "(") -> str: ...
    @abstractmethod
    def function(self, name: str, index: str, arguments: Sequence[str]) -> str: ...
    @abstractmethod
    def cases(self, rows: Sequence[tuple[str, str]]) -> str: ...
    @abstractmethod
    def whole(self, body: str) -> str: ...


class MathML(Writer):
    """Presentation MathML, the part browsers draw without help (MathML Core)."""

    def number(self, digits: str) -> str:
        return f"<mn>{html.escape(digits)}</mn>"

    def symbol(self, base: str, index: str) -> str:
        letters = f"<mi>{html.escape(base)}</mi>"
        if not index:
            return letters
        return f'<msub>{letters}<mi mathvariant="normal">{html.escape(index)}</mi></msub>'

    def sign(self, glyph: str) -> str:
        tight = ' lspace="0" rspace="0"' if glyph == "/" else ""
        return f"<mo{tight}>{html.escape(glyph)}</mo>"

    def leading(self, glyph: str) -> str:
        return f'<mo form="infix">{html.escape(glyph)}</mo>'

    def words(self, text: str) -> str:
        return f"<mtext>{html.escape(text).replace(' ', chr(0xA0))}</mtext>"

    def thin(self) -> str:
        return '<mspace width="0.18em"/>'

    def row(self, *parts: str) -> str:
        return f"<mrow>{''.join(parts)}</mrow>"

    def fraction(self, above: str, below: str) -> str:
        return f"<mfrac>{self.row(above)}{self.row(below)}</mfrac>"

    def power(self, base: str, exponent: str) -> str:
        return f"<msup>{self.row(base)}{self.row(exponent)}</msup>"

    def root(self, inside: str, degree: str = "") -> str:
        if degree:
            return f"<mroot>{self.row(inside)}<mn>{html.escape(degree)}</mn></mroot>"
        return f"<msqrt>{inside}</msqrt>"

    def fenced(self, inside: str, fence: str = "(") -> str:
        left, right = ("(", ")") if fence == "(" else (fence, fence)
        tall = any(mark in inside for mark in ("<mfrac", "<msqrt", "<mroot", "<mtable"))
        how = 'fence="true"' if tall else 'fence="true" stretchy="false"'
        return f"<mrow><mo {how}>{left}</mo>{inside}<mo {how}>{right}</mo></mrow>"

    def function(self, name: str, index: str, arguments: Sequence[str]) -> str:
        inside = '<mo separator="true">,</mo>'.join(self.row(a) for a in arguments)
        return self.row(self.symbol(name, index), self.fenced(inside))

    def cases(self, rows: Sequence[tuple[str, str]]) -> str:
        cells = "".join(
            f"<mtr><mtd>{self.row(value)}</mtd><mtd>{self.row(condition)}</mtd></mtr>" for value, condition in rows
        )
        return f'<mrow><mo fence="true">{{</mo><mtable displaystyle="true" columnalign="left">{cells}</mtable></mrow>'

    def whole(self, body: str) -> str:
        return f'<math xmlns="http://www.w3.org/1998/Math/MathML" displaystyle="true">{self.row(body)}</math>'


class Typst(Writer):
    """Typst source for inside an equation."""

    def number(self, digits: str) -> str:
        bare = digits.removesuffix("°").replace(".", "", 1)
        return digits if bare.isdigit() else self.words(digits)

    def symbol(self, base: str, index: str) -> str:
        letters = base if len(base) == 1 and base.isalpha() else self.words(base)
        return f"{letters}_{self.words(index)}" if index else letters

    def sign(self, glyph: str) -> str:
        return f" {'slash' if glyph == '/' else glyph} "

    def leading(self, glyph: str) -> str:
        return f'med class("normal", {glyph}) med'

    def words(self, text: str) -> str:
        return typst_string(text.strip())

    def thin(self) -> str:
        return " thin "

    def row(self, *parts: str) -> str:
        return " ".join(parts)

    def fraction(self, above: str, below: str) -> str:
        return f"frac({above}, {below})"

    def power(self, base: str, exponent: str) -> str:
        return f"attach({base}, t: {exponent})"

    def root(self, inside: str, degree: str = "") -> str:
        return f"root({degree}, {inside})" if degree else f"sqrt({inside})"

    def fenced(self, inside: str, fence: str = "(") -> str:
        return f"abs({inside})" if fence == "|" else f"lr(({inside}))"

    def function(self, name: str, index: str, arguments: Sequence[str]) -> str:
        head = f"op({self.words(name)})" + (f"_{self.words(index)}" if index else "")
        inside = " \\, ".join(arguments)
        return f"{head} lr(({inside}))"

    def cases(self, rows: Sequence[tuple[str, str]]) -> str:
        lines = ", ".join(f"display({value}) quad & {condition}" for value, condition in rows)
        return f"cases(gap: #0.6em, {lines})"

    def whole(self, body: str) -> str:
        return f"$display({body})$"


def typst_string(text: str) -> str:
    """Text as a typst string literal."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{escaped}"'
