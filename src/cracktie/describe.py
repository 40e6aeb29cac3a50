"""Everything about one published model as plain text: source, status by branch, inputs, coefficients, formulas."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from cracktie import branches, symbols
from cracktie.branches import Words
from cracktie.citations import citation
from cracktie.clause import LEVELS, Applies, Model, evaluate, get
from cracktie.expression import exact, fraction_of
from cracktie.modelcheck import ruled_out
from cracktie.samples import UnknownRange, case, draw
from cracktie.trace import Row, trace_model

CASES = 60
"""Sampled cases among which one is sought to which the model applies."""

Key = tuple[str, str, str, str, int]
"""A row of a formula list: name, formula, unit, clause, and which of several equal rows of its branch it is."""


def describe(id: str) -> dict[str, Any]:
    """The model of that id as a plain mapping; lists of lines where a reader sees lines. Raises `UnknownName`."""
    made = get(id)
    return {
        "id": made.id,
        "title": made.title,
        "topic": made.topic,
        "source": source(made),
        "predicts": made.predicts,
        "meaning": symbols.symbol(made.predicts).meaning if symbols.known(made.predicts) else "",
        "unit": made.unit,
        "revision": made.revision,
        "status": status_by_branch(made),
        "inputs": [input_line(made, name) for name in made.inputs],
        "coefficients": [f"{name} = {number(value)}" for name, value in made.coefficients.items()],
        "limits": [limit.sentence(_unit(limit.name)) for limit in made.limits],
        "applies": [_condition(condition) for condition in made.applies],
        "formula": formulas(made),
        "anchored": made.anchored,
        "adds_concrete": made.adds_concrete,
    }


def source(made: Model) -> str:
    """Full citation and the place inside the document."""
    return ", ".join(part for part in (citation(made.source.key), made.source.where) if part)


def number(value: float) -> str:
    """A coefficient as the document prints it: 0.004, 2/3."""
    part = fraction_of(value)
    return exact(value) if part is None else f"{part.numerator}/{part.denominator}"


def input_line(made: Model, name: str) -> str:
    """Name, symbol, unit and meaning of an input, or the words it takes."""
    words = made.categories.get(name)
    known = symbols.symbol(name) if symbols.known(name) else None
    meaning = known.meaning if known else ""
    if words is not None:
        told = f"{name}: {' | '.join(map(branches.word, words))}"
        return f"{told}, {meaning}" if meaning else told
    if known is None:
        return name
    shown = f" ({known.symbol})" if known.symbol != name else ""
    unit = "" if known.unit in ("", "-") else f" [{known.unit}]"
    return f"{name}{shown}{unit}: {meaning}"


def _unit(name: str) -> str:
    return symbols.symbol(name).unit if symbols.known(name) else ""


def _condition(condition: Applies) -> str:
    return f"{condition.sentence}; {condition.where}" if condition.where else condition.sentence


def possible_branches(made: Model) -> list[dict[str, Any]]:
    """Branches that no condition rules out by their words alone."""
    return [words for words in made.branches() if ruled_out(made, words) is None]


def status_by_branch(made: Model) -> list[dict[str, str]]:
    """Level, how it is known, and `when` in words ('' for all), for every status that some possible branch has."""
    whole = possible_branches(made)
    met: dict[tuple[str, str], list[Words]] = {}
    for words in whole:
        status = made.status_of(words)
        met.setdefault((status.level, status.how), []).append(words)
    return [
        {"level": level, "how": how, "when": branches.in_words(branches.boxes(part, whole))}
        for (level, how), part in met.items()
    ]


def levels(made: Model) -> list[str]:
    """Status levels that possible branches have, weakest first."""
    met = {made.status_of(words).level for words in possible_branches(made)}
    return [level for level in LEVELS if level in met]


def formulas(made: Model) -> list[str]:
    """The traced formulas of every branch as lines, each said once with the words that lead to it.

    A model with editions in two unit systems has a heading for each edition. Formulas are plain text in the names of
    inputs and steps; where a kernel gave the value the line says how.
    """
    traced = [(words, _rows(made, words)) for words in possible_branches(made)]
    known = [(words, rows) for words, rows in traced if rows is not None]
    if not known:
        return ["no case of ordinary dimensions is known to which the model applies; its formulas are not shown"]
    editions = list(dict.fromkeys(words.get("edition") for words, _ in known))
    if len(editions) == 1:
        return _lines(known)
    lines: list[str] = []
    for edition in editions:
        inner = [({n: w for n, w in words.items() if n != "edition"}, r) for words, r in known]
        chosen = [inner[i] for i, (words, _) in enumerate(known) if words["edition"] == edition]
        lines += [f"{edition} edition:", *(f"  {line}" for line in _lines(chosen))]
    return lines


def _rows(made: Model, words: Words) -> tuple[Row, ...] | None:
    """Rows of one sampled case of a branch; None where no sample applies."""
    try:
        values = draw(made, words, CASES)
    except UnknownRange:
        return None
    applicable = np.flatnonzero(np.broadcast_to(evaluate(made, values).applicable, _size(values)))
    return trace_model(made, case(values, int(applicable[0]))).rows if len(applicable) else None


def _size(values: Mapping[str, Any]) -> int:
    return next((len(v) for v in values.values() if isinstance(v, np.ndarray)), 1)


def _lines(known: Sequence[tuple[Words, Iterable[Row]]]) -> list[str]:
    whole = [words for words, _ in known]
    order: list[Key] = []
    met: dict[Key, list[Words]] = {}
    for words, rows in known:
        place = 0
        for key in _keys(rows):
            if key in met:
                place = max(place, order.index(key) + 1)
            else:
                order.insert(place, key)
                place += 1
            met.setdefault(key, []).append(words)
    return [_line(key, branches.in_words(branches.boxes(met[key], whole))) for key in order]


def _keys(rows: Iterable[Row]) -> list[Key]:
    keys: list[Key] = []
    for row in rows:
        plain = (row.name, row.symbolic, row.unit, row.where)
        keys.append((*plain, sum(k[:4] == plain for k in keys)))
    return keys


def _line(key: Key, when: str) -> str:
    name, formula, unit, where, _ = key
    shown = "" if unit == "-" else f" [{unit}]"
    place = f"  {where if where.startswith('(') else f'({where})'}" if where else ""
    return f"{name} = {formula}{shown}{place}{f'  where {when}' if when else ''}"
