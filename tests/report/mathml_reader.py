"""Reads presentation MathML back into a number by school rules: a check of brackets and marks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from xml.etree import ElementTree as Tree

SPACE = "{http://www.w3.org/1998/Math/MathML}"
_MARKS = {"⋅": "*", "−": "-", "≤": "<=", "≥": ">=", "=": "==", "≠": "!="}
_FUNCTIONS = {
    "min": min,
    "max": max,
    "exp": math.exp,
    "ln": math.log,
    "sqrt": math.sqrt,
    "cbrt": math.cbrt,
    "abs": abs,
    "sgn": lambda x: (x > 0) - (x < 0),
    "arctan": lambda x: math.degrees(math.atan(x)),
    "arctan2": lambda y, x: math.degrees(math.atan2(y, x)),
    "arcsin": lambda x: math.degrees(math.asin(x)),
    "arccos": lambda x: math.degrees(math.acos(x)),
    "sin": lambda x: math.sin(math.radians(x)),
    "cos": lambda x: math.cos(math.radians(x)),
    "tan": lambda x: math.tan(math.radians(x)),
    "degrees": math.degrees,
    "tanh": math.tanh,
    "sinh": math.sinh,
    "cosh": math.cosh,
}
"""Angles are read as degrees, as the page says, unless they are multiples of π or marked rad."""

_TURNS = ("sin", "cos", "tan")


def read(pieces: Sequence[str], symbols: Mapping[str, float]) -> float:
    """Value of the formula in `<math>` pieces; `symbols` maps 'ε_fe' -> number."""
    source = " ".join(_python("".join(_element(child) for child in Tree.fromstring(piece))) for piece in pieces)
    names: dict[str, float] = {}
    for i, (symbol, value) in enumerate(sorted(symbols.items(), key=lambda item: -len(item[0]))):
        source = source.replace(f"⟨{symbol}⟩", f" x{i} ")
        names[f"x{i}"] = value
    source = source.replace("⟨π⟩", repr(math.pi)).replace("°", "")
    unread = source[source.index("⟨") :] if "⟨" in source else ""
    assert not unread, f"no number for the symbol at {unread!r}"
    return float(eval(source, {"__builtins__": {}, **_FUNCTIONS}, names))


def _python(text: str) -> str:
    return text.replace("\xa0", " ")


def _element(node: Tree.Element) -> str:
    tag = node.tag.removeprefix(SPACE)
    if tag == "mrow" and len(node) == 2 and node[1].tag == f"{SPACE}mtable":
        return _cases(node[1])
    inner = [_element(child) for child in node]
    text = node.text or ""
    if tag == "mrow":
        return _row(node, inner)
    if tag == "mn":
        return text
    if tag in ("mi", "msub"):
        return f"⟨{_symbol(node)}⟩"
    if tag == "mo":
        return _MARKS.get(text, text)
    if tag == "mtext":
        return text
    if tag == "mspace":
        return "*"
    if tag == "mfrac":
        return f"(({inner[0]})/({inner[1]}))"
    if tag == "msup":
        return f"{inner[0]}**({inner[1]})"
    if tag == "msqrt":
        return f"sqrt({''.join(inner)})"
    if tag == "mroot":
        assert inner[1] == "3"
        return f"cbrt({inner[0]})"
    raise AssertionError(f"no rule to read <{tag}>")


def _symbol(node: Tree.Element) -> str:
    return "_".join("".join(part.itertext()) for part in ([*node] or [node]))


def _row(node: Tree.Element, inner: list[str]) -> str:
    children = list(node)
    if len(children) == 2 and _is_function(children):
        name, argument = _symbol(children[0]), inner[1]
        if name in _TURNS and ("⟨π⟩" in argument or "rad" in argument):
            return f"{name}(degrees({argument.replace('rad', '')}))"
        return f"{name}{argument}"
    if len(inner) > 2 and inner[0] == inner[-1] == "|":
        return f"abs({''.join(inner[1:-1])})"
    return "".join(inner)


def _is_function(children: list[Tree.Element]) -> bool:
    fence = next(iter(children[1]), None)
    return _symbol(children[0]) in _FUNCTIONS and fence is not None and fence.get("fence") == "true"


def _cases(table: Tree.Element) -> str:
    text = "("
    for row in table:
        value, condition = ("".join(_element(part) for part in cell) for cell in row)
        condition = _python(condition).strip()
        text += f"({value})" if condition == "otherwise" else f"({value}) if ({condition.removeprefix('if ')}) else "
    return text + ")"
