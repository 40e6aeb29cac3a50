"""The chapter on predictions: every set side by side, what fails first, then one table a set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from cracktie.prediction.flexure import HOW
from cracktie.prediction.summary import Said, first_to_fail, limits, matrix, notes, reasons
from cracktie.report.blocks import Block, Column, Heading, Table, Text
from cracktie.report.numbers import force_text
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.prediction import Prediction, SetPrediction

STATUS_WORDS = {
    "checked": "reproduces a number printed by others that somebody here has read",
    "derived": "follows from an identity, our own derivation or an independent library",
    "memory": "coefficients recalled with high confidence, not compared with the printed document",
    "doubtful": "coefficients recalled with medium confidence",
    "own": "our own rule",
}
SETS_A_TABLE = 7
"""Columns of the table of resistances, so that it fits a page."""


class PredictionChapter:
    """Blocks of the chapter; `system` is the shown unit system."""

    def __init__(self, prediction: Prediction, system: str) -> None:
        self.prediction, self.system = prediction, system
        self.unit = shown(1.0, "N", system)[1]

    def force(self, value: float | None) -> str:
        """Force in the shown unit; a dash for none."""
        return force_text(value, self.system)

    def spread(self, values: tuple[float, float] | None) -> str:
        """Least and greatest, one number where they are shown alike."""
        low, high = ("–", "–") if values is None else (self.force(v) for v in values)
        return low if low == high else f"{low} to {high}"

    def blocks(self) -> Iterable[Block]:
        """All blocks."""
        made = self.prediction
        yield Heading("Predictions", 1, "predictions")
        yield Text(f"Form: {made.form}; inputs: {made.choice} values where present. A dash: the set gives no "
                   "resistance there; the reasons follow. Calculation sheets stand at the end.")  # fmt: skip
        yield from self._matrix()
        yield from self._said("Where a set gives no resistance", "reason", reasons(made))
        yield from self._first()
        yield from self._said("Outside a published range: the value stands, extrapolated", "range", limits(made))
        yield from self._said("Remarks on inputs and sets", "remark", notes(made))
        for name in made.sets:
            rows = [r for r in made.rows if r.set == name and (r.V_R is not None or r.V_f is not None)]
            if rows:
                yield self._of_set(rows)
        if made.skipped:
            columns = (Column("item", "", "left"), Column("not predicted, because", "", "left", prose=True))
            yield Table("Not predicted", columns, tuple(made.skipped.items()))

    def _matrix(self) -> Iterable[Block]:
        made, cells = self.prediction, matrix(self.prediction)
        titles = {r.set: r.title for r in made.rows}
        for start in range(0, len(made.sets), SETS_A_TABLE):
            names = made.sets[start : start + SETS_A_TABLE]
            rows = []
            for item in made.items:
                found = [cells.get((name, item)) for name in names]
                span = next((r.span for r in found if r is not None), "")
                rows.append((item, span, *(self.force(None if r is None else r.V_R) for r in found)))
            columns = (Column("item", "", "left"), Column("span", "", "left"), *(Column(n, self.unit) for n in names))
            yield Table(
                "Shear resistance V_R of the studied span by every set", columns, tuple(rows),
                tuple(f"{n}: {titles[n]}." for n in names),
            )  # fmt: skip

    def _first(self) -> Iterable[Block]:
        found = first_to_fail(self.prediction)
        if not found:
            return
        columns = (
            Column("item", "", "left"), Column("span", "", "left"), Column("bending", self.unit),
            Column("other span", self.unit), Column("least over V_R"),
            Column("what fails first", "", "left", prose=True),
        )  # fmt: skip
        rows = []
        for f in found:
            ratio = "–" if f.margin is None else f"{f.margin[0]:.2f} to {f.margin[1]:.2f}"
            words = f"{f.words}; bending: {f.flexure}"
            rows.append((f.item, f.span, self.force(f.V_flex), self.spread(f.V_other), ratio, words))
        footnotes = (
            "Bending and the other span are shears in the middle of the studied span at the load that brings them to "
            "their resistance, self-weight in it; from least to greatest over the sets.",
            f"Bending: {HOW}.",
        )
        yield Table("What fails first under this loading", columns, tuple(rows), footnotes)

    def _said(self, caption: str, head: str, found: Sequence[Said]) -> Iterable[Block]:
        if not found:
            return
        columns = (Column("sets", "", "left", prose=True), Column(head, "", "left", prose=True),
                   Column("items", "", "left", prose=True))  # fmt: skip
        rows = tuple((s.which_sets, s.sentence, s.which_items) for s in found)
        yield Table(caption, columns, rows)

    def _of_set(self, rows: Sequence[SetPrediction]) -> Table:
        columns = (
            Column("item", "", "left"), Column("span", "", "left"),
            *(Column(n, self.unit, symbol=n) for n in ("V_c", "V_s", "V_f", "V_R")), Column("u, inputs", self.unit),
            Column("governs", "", "left", prose=True),
        )  # fmt: skip
        made = tuple(
            (r.item, r.span, *(self.force(v) for v in (r.V_c, r.V_s, r.V_f, r.V_R, r.u_V_R)), r.governing or "–")
            for r in rows
        )
        by_rule: dict[str, list[str]] = {}
        for r in rows:
            by_rule.setdefault(r.rule, []).append(r.item)
        rules = [f"{rule}." if len(by_rule) == 1 else f"{rule} ({', '.join(i)})." for rule, i in by_rule.items()]
        levels = dict.fromkeys(r.status for r in rows if r.status)
        words = [f"Status {level}: {STATUS_WORDS[level]}." for level in levels]
        return Table(rows[0].title, columns, made, (*rules, *words))
