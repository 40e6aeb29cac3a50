"""Which calculation sheets a report prints: each model once, and a line where another item repeats it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from cracktie.report.blocks import Block, Heading, Points, SheetBlock, Text
from cracktie.report.numbers import shown, unit_text

if TYPE_CHECKING:
    from cracktie.prediction import Prediction, SetPrediction
    from cracktie.trace import CalculationSheet


def chosen_sheets(prediction: Prediction, system: str) -> Iterable[Block]:
    """One item for each combination of guideline set, wrap scheme and anchors; its sheets, or where they stand."""
    from cracktie.citations import citation

    yield Text(
        "One item stands for each combination of guideline set, wrap scheme and anchors. A model is printed in full "
        "once for each case of its words; a line names the sheet where another item repeats it with other numbers. "
        "The sheets of any other item: cracktie predict FOLDER --sheet ITEM."
    )
    seen = _Seen(system)
    for row in _representatives(prediction):
        yield Heading(f"{row.title}: {row.item}, span {row.span}", 2)
        repeated: list[str] = []
        sources = prediction.members[(row.specimen, row.span, row.test)].sources
        for sheet in prediction.sheets(row):
            line = seen.line(row.item, sheet)
            if line:
                repeated.append(line)
                continue
            if repeated:
                yield Points(tuple(repeated))
                repeated = []
            yield SheetBlock(sheet, sources, citation(sheet.source.key), system)
        if repeated:
            yield Points(tuple(repeated))


class _Seen:
    """Sheets printed so far, and those a line has given."""

    def __init__(self, system: str) -> None:
        self.system = system
        self.printed: dict[Any, tuple[str, CalculationSheet]] = {}
        self.given: dict[Any, str] = {}

    def line(self, item: str, sheet: CalculationSheet) -> str:
        """The line that stands for a sheet, '' where it has to be printed."""
        inputs = (sheet.model, tuple((e.name, e.value) for e in sheet.inputs))
        result = f"{sheet.predicts} = {_with_unit(sheet.value, sheet.unit, self.system)}"
        if inputs in self.given:
            return f"{sheet.title}: given above for {self.given[inputs]}, same inputs; {result}."
        self.given[inputs] = item
        kind = _kind(sheet)
        if kind not in self.printed:
            self.printed[kind] = (item, sheet)
            return ""
        earlier, first = self.printed[kind]
        before = {e.name: e.value for e in first.inputs}
        changed = [e for e in sheet.inputs if e.value != before[e.name]]
        listed = ", ".join(f"{e.name} = {_with_unit(e.value, e.unit, self.system)}" for e in changed)
        return f"{sheet.title}: as the sheet of {earlier}, with {listed}; {result}."


def _representatives(prediction: Prediction) -> Iterable[SetPrediction]:
    """The first applicable row of each combination, set by set."""
    found: dict[tuple[Any, ...], SetPrediction] = {}
    for row in prediction.rows:
        values = prediction.members[(row.specimen, row.span, row.test)].values
        if row.applicable:
            found.setdefault((row.set, values.get("scheme"), values.get("anchored")), row)
    order = list(dict.fromkeys(row.set for row in prediction.rows))
    return sorted(found.values(), key=lambda row: order.index(row.set))


def _kind(sheet: CalculationSheet) -> tuple[Any, ...]:
    """Model, its words and which of its numbers are zero: two sheets of one kind differ in other numbers only."""
    words = tuple((e.name, e.value if isinstance(e.value, (str, bool)) else e.value == 0) for e in sheet.inputs)
    return (sheet.model, words, sheet.applicable)


def _with_unit(value: float | None, unit: str, system: str) -> str:
    if value is None:
        return "no value"
    number = shown(float(value), unit, system, as_given=True)
    word = unit_text(number.unit)
    return f"{number.text}{'' if word in ('', '°') else ' '}{word}"
