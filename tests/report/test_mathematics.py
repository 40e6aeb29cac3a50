"""Formulas as mathematics: what a reader sees says what was computed."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree as Tree

import numpy as np
import pytest

from cracktie import symbols
from cracktie.clause import Model
from cracktie.expression import Name, Number
from cracktie.report import mathematics
from cracktie.report.mathematics import mathml, symbol_mathml, symbol_typst, typst_math
from cracktie.trace import Traced, trace_model

from ..models.test_every_model import applicable_cases, every_branch
from .mathml_reader import read


def name(label: str, value: float) -> Traced:
    return Traced(np.float64(value), Name(label, value))


A, B, D = name("a", 2.0), name("b_w", 3.0), name("d", 5.0)
VALUES = {"a": 2.0, "b_w": 3.0, "d": 5.0}


@every_branch
def test_the_page_reads_back_to_the_recorded_number(made: Model, words: dict[str, Any]) -> None:
    """MathML with symbols, read by school rules, gives the step; seven digits of a printed literal bound the error."""
    for inputs in applicable_cases(made, words, 2):
        known = {symbols.plain(n): float(v) for n, v in inputs.items() if n not in words and v is not None}
        for row in trace_model(made, inputs).rows:
            if row.formula is not None:
                shown = _read(mathml(row.formula), known)
                assert shown == pytest.approx(row.value, rel=1e-5, abs=1e-12), f"{row.name} = {row.symbolic}"
            known[symbols.plain(row.name)] = row.value


def _read(pieces: tuple[str, ...], known: dict[str, float]) -> float:
    """Symbols as the page writes them: 'M/V' is two letters there, a root sign is drawn."""
    letters = dict(known)
    for symbol, value in known.items():
        if "/" in symbol or symbol.startswith("√"):
            pieces = tuple(p.replace(_body(symbol), f"<mn>{value!r}</mn>") for p in pieces)
            letters.pop(symbol)
    return read(pieces, letters)


def _body(symbol: str) -> str:
    """How the page writes a compound symbol, without the outer element."""
    found = next(s.name for s in symbols.all_symbols() if s.symbol == symbol)
    whole = symbol_mathml(found)
    return whole[whole.index("<mrow>") + 6 : whole.rindex("</mrow>")]


@pytest.mark.parametrize(
    "made",
    [
        A - (B - D),
        A - (B + D) * 2,
        (A - B) ** 2,
        (A / B) ** 2,
        (-A) ** 2,
        -(A**2),
        A ** (B / D),
        A ** (-2 / 3),
        (A**B) ** 2,
        np.sqrt(A) ** 3,
        (np.sqrt(A) + 1) ** 0.5,
        A * (B / D) * 2.0,
        A * (2 / 3),
        (2 / 3) ** B,
        A * -B,
        A / B / D,
        A / (B / D),
        2 * A * 3.0,
        A * (-1.5),
        np.abs(A - B) * D,
        np.cbrt(A + B),
        np.minimum(A, B) * np.maximum(A, D) ** 2,
        np.exp(-A) ** 2,
        np.log(A) / np.log(B),
        np.sin(np.radians(A)) * D,
        np.sin(np.radians(A + B)) ** 2,
        np.sin(np.pi / 2 * A / 7),
        np.sin(A / 7) * B,
        np.cos(A) + np.cos(np.arctan(B)),
        np.cos(np.radians(2 * A - B)),
        np.radians(A) * B,
        B * np.radians(A + D),
        np.degrees(np.arctan(A / B)),
        np.where(A < B, A + B, D) * 2,
        np.where((A > B) | (D >= 5.0), np.where(~(A < B), 1.0, A), D) ** 2,
        1.2e-9 * A,
        A + -B,
        np.pi * A / (np.pi / 2),
        A * B * D * A * B * D * A * B * D * (A + B) * 1000.0 * 0.123456 * (A - B) * np.sqrt(A) * (1 + A * B),
        A + B - D + A * B - (A + B) * 1000.0 - (A - B) + np.sqrt(A) - 0.12345 - (D - A) + 100000.0 * (A + B) - 1,
    ],
    ids=lambda t: repr(t)[:50],
)
def test_brackets_and_marks(made: Traced) -> None:
    assert read(mathml(made.tree), VALUES) == pytest.approx(float(made), rel=1e-6)
    shown = read(mathml(made.tree, numbers=True), {})
    assert shown == pytest.approx(float(made), rel=1e-6)
    for numbers in (False, True):
        assert "".join(typst_math(made.tree, numbers)).count("(") == "".join(typst_math(made.tree, numbers)).count(")")


def test_a_wide_formula_breaks_into_pieces_before_its_marks() -> None:
    wide = sum((A * B * 1000.0 for _ in range(12)), A)
    pieces = mathml(wide.tree, numbers=True)
    assert len(pieces) == 13
    assert all('<mo form="infix">+</mo>' in piece for piece in pieces[1:])
    assert len(mathml((A + B).tree)) == 1


def test_symbols_have_an_upright_index() -> None:
    assert '<msub><mi>ε</mi><mi mathvariant="normal">fu</mi></msub>' in symbol_mathml("eps_fu")
    assert symbol_typst("eps_fu") == '$display(ε_"fu")$'
    assert '<mi>M</mi><mo lspace="0" rspace="0">/</mo><mi>V</mi>' in symbol_mathml("M_V")


def test_a_name_outside_the_glossary_is_shown_upright() -> None:
    assert "<mi>unheard</mi>" in symbol_mathml("unheard")
    assert symbol_typst("unheard") == '$display("unheard")$'
    assert "<mi>λ</mi>" in symbol_mathml("lam")


def test_everything_is_escaped() -> None:
    hostile = Name('<b>&"x', 1.0)
    (html_text,) = mathml(hostile)
    assert Tree.fromstring(html_text) is not None
    assert "<b>" not in html_text
    (source,) = typst_math(Name('say "hi" \\ #end', 1.0))
    assert source == '$display("say \\"hi\\" \\\\ #end")$'


def test_literals_stay_readable() -> None:
    (shown,) = mathml((A / 0.006894757293168361).tree)
    assert "<mn>0.006894757</mn>" in shown
    (shown,) = mathml((A ** (2 / 3)).tree)
    assert '<mn>2</mn><mo lspace="0" rspace="0">/</mo><mn>3</mn>' in shown
    (shown,) = mathml((3.336e9 * A).tree)
    assert "<mn>3336000000</mn>" in shown
    (shown,) = mathml(Number(2.5e-7))
    assert "<msup><mrow><mn>10</mn></mrow><mrow><mrow><mo>−</mo><mn>7</mn></mrow></mrow></msup>" in shown


def test_degrees_are_marked_where_an_angle_is_meant() -> None:
    (shown,) = mathml(np.sin(np.radians(A)).tree, numbers=True)
    assert "<mn>2°</mn>" in shown
    assert "180" not in shown


@pytest.mark.parametrize(
    ("tree", "says"),
    [(A.tree, False), (Number(2.0), False), ((A * 2).tree, True), ((Traced(1.0, Number(1.0)) * 2).tree, False)],
)
def test_numbers_are_repeated_only_where_they_say_more(tree: Any, says: bool) -> None:
    assert mathematics.has_names(tree) is says
