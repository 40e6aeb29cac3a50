"""What tables of a whole prediction show: sets beside one another, reasons and limits once, what fails first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from cracktie.prediction import Prediction, SetPrediction


@dataclass(frozen=True)
class Said:
    """A sentence that holds for several sets and items."""

    sentence: str
    sets: tuple[str, ...]
    items: tuple[str, ...]
    every_set: bool = False
    every_item: bool = False

    @property
    def which_sets(self) -> str:
        """The sets in words."""
        return "every set" if self.every_set else ", ".join(self.sets)

    @property
    def which_items(self) -> str:
        """The items in words."""
        return "every item" if self.every_item else ", ".join(self.items)


@dataclass(frozen=True)
class First:
    """What fails first in one item. Forces in N, (least, greatest) over the sets where they differ; None: not known."""

    item: str
    span: str
    V_R: tuple[float, float] | None
    V_flex: float | None
    flexure: str
    V_other: tuple[float, float] | None
    margin: tuple[float, float] | None
    words: str


def matrix(prediction: Prediction) -> dict[tuple[str, str], SetPrediction]:
    """Rows by (set, item)."""
    return {(r.set, r.item): r for r in prediction.rows}


def reasons(prediction: Prediction) -> tuple[Said, ...]:
    """Why sets give no resistance: each reason once."""
    return _said(prediction, lambda r: r.reasons)


def limits(prediction: Prediction) -> tuple[Said, ...]:
    """Exceeded published ranges: each once."""
    return _said(prediction, lambda r: r.outside)


def notes(prediction: Prediction) -> tuple[Said, ...]:
    """Remarks on inputs and sets: each once."""
    return _said(prediction, lambda r: r.notes)


def _said(made: Prediction, of: Callable[[SetPrediction], Sequence[str]]) -> tuple[Said, ...]:
    """Sentences in order of appearance; one entry for all sets that share a sentence and its items."""
    found: dict[str, dict[str, list[str]]] = {}
    sets, items = len(made.sets), len(made.items)
    for row in made.rows:
        for sentence in of(row):
            found.setdefault(sentence, {}).setdefault(row.set, []).append(row.item)
    said = []
    for sentence, by_set in found.items():
        together: dict[tuple[str, ...], list[str]] = {}
        for name, where in by_set.items():
            together.setdefault(tuple(dict.fromkeys(where)), []).append(name)
        said += [
            Said(sentence, tuple(names), where, 1 < len(names) == sets, 1 < len(where) == items)
            for where, names in together.items()
        ]
    return tuple(said)


def first_to_fail(prediction: Prediction) -> tuple[First, ...]:
    """One entry an item."""
    return tuple(_first([r for r in prediction.rows if r.item == item]) for item in prediction.items)


def _first(rows: Sequence[SetPrediction]) -> First:
    one = rows[0]
    beside = one.beside
    margin = _span(r.margin for r in rows)
    return First(
        one.item, one.span, _span(r.V_R for r in rows), beside.V_flex, beside.flexure or beside.why_no_flexure,
        _span(r.beside.V_other for r in rows), margin, _words(rows),
    )  # fmt: skip


def _span(values: Iterable[float | None]) -> tuple[float, float] | None:
    known = [v for v in values if v is not None]
    return (min(known), max(known)) if known else None


def _words(rows: Sequence[SetPrediction]) -> str:
    judged = [r for r in rows if r.margin is not None]
    if not judged:
        return "nothing to compare"
    before = [r.set for r in judged if (r.margin or 0.0) <= 1.0]
    if not before:
        words = "studied span first by every set" if len(judged) > 1 else "studied span first"
    elif len(before) == len(judged):
        words = "another failure first by every set" if len(judged) > 1 else "another failure first"
    else:
        words = f"another failure first by {', '.join(before)}"
    blind = [r.set for r in judged if r.beside.V_other is None]
    if len(blind) == len(judged):
        return f"{words}; other span not known: {judged[0].beside.why_no_other}"
    return f"{words}; other span not known by {', '.join(blind)}" if blind else words
