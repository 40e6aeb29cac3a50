"""The chapter on measured results: table, curves, shares and budgets, remarks. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from cracktie.report.blocks import Block, Column, Figure, Heading, Table, Text
from cracktie.report.measured import measured_tables
from cracktie.report.numbers import force_text, significant
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.prediction import Prediction
    from cracktie.reduced import Mode, Reduced, TestResult


class ResultsChapter:
    """Blocks of the reduced tests."""

    def __init__(self, campaign: Campaign, prediction: Prediction, reduced: Reduced) -> None:
        self.campaign, self.prediction, self.reduced = campaign, prediction, reduced
        self.system = campaign.head.shown_units
        self.unit = shown(1.0, "N", self.system)[1]
        self.length = shown(1.0, "mm", self.system)[1]

    def blocks(self) -> Iterable[Block]:
        """All blocks."""
        yield Heading("Results of the tests", 1, "results")
        yield Text(
            "V is the shear at the middle of the studied shear span: applied load, self-weight and the weight of the "
            "rig. The shear from the applied load alone stands beside it. A sign ≥ marks a lower bound: that beam did "
            "not fail in shear in the studied span. u is the standard uncertainty of the measurement; it does not hold "
            "the scatter between beams."
        )
        yield self._result_table()
        yield from self._curves()
        yield from measured_tables(self.reduced, self.system)
        yield from self._modes()
        yield from self._notes_on_tests()

    def _modes(self) -> Iterable[Block]:
        """Failure modes from the first debonding on; the first cracks stand in the table of results."""
        rows = []
        for t in self.reduced.tests.values():
            later = [m for m in t.modes if m.modes[0] not in ("flexural crack", "diagonal crack")]
            seen = [f"{self._mode(m)}, {m.agreement}" if m.agreement else self._mode(m)
                    for m in later if m.source == "observed"]  # fmt: skip
            only = [self._mode(m) for m in later if m.source == "measured"]
            if later:
                rows.append((t.test, "; ".join(seen) or "–", "; ".join(only) or "–"))
        if rows:
            columns = (
                Column("test", "", "left"),
                Column("observed, with what the gauges say to it", "", "left", prose=True),
                Column("shown by gauges alone", "", "left", prose=True),
            )
            yield Table("Failure modes in order (strip and face, V, how sure)", columns, tuple(rows))

    def _mode(self, m: Mode) -> str:
        place = f" {m.strip} {m.face or ''}".rstrip() if m.strip is not None else f" {m.anchor or ''}".rstrip()
        V = "" if m.V is None else f"{self._force(m.V)} {self.unit}, "
        return f"{m.shown}{place} ({V}{m.confidence})"

    def _result_table(self) -> Table:
        names = (("V_cr", "V_cr"), ("V_dia", "V_dia"), ("V_deb", "V_deb"))
        columns = (
            Column("test", "", "left"),
            Column("span", "", "left"),
            Column("f_c", shown(1.0, "MPa", self.system)[1], symbol="f_c"),
            *(Column(n, self.unit, symbol=s) for n, s in names),
            Column("V_max", self.unit, symbol="V_max"),
            Column("u", self.unit),
            Column("applied only", self.unit),
            Column("deflection at V_max", self.length),
            Column("greatest fibre strain", "µm/m"),
            *(Column(f"{word} at V_max", self.length) for _, word in self._crack_names()),
            Column("outcome", "", "left"),
        )
        rows = tuple(self._result_row(t, [n for n, _ in names]) for t in self.reduced.tests.values())
        return Table("Results (shear at the stated section, strains from unfiltered readings)", columns, rows)

    def _crack_names(self) -> list[tuple[str, str]]:
        """Opening and sliding of the crack, where any test has them."""
        words = (("w_cr_V_max", "crack opening"), ("v_cr_V_max", "crack sliding"))
        return [(n, word) for n, word in words if any(n in t.values for t in self.reduced.tests.values())]

    def _crack_cell(self, t: TestResult, name: str) -> str:
        found = t.values.get(name)
        if found is None or found.value is None:
            return "–"
        value = f"{shown(found.value, 'mm', self.system)[0]:.2f}"
        return value if found.u is None else f"{value} ± {shown(found.u, 'mm', self.system)[0]:.2f}"

    def _result_row(self, t: TestResult, names: Sequence[str]) -> tuple[str, ...]:
        V = t.values.get("V_max")
        member = self.prediction.members.get((t.specimen, t.span, t.test))
        f_c = significant(shown(member.values["f_c"], "MPa", self.system)[0], 3) if member else "–"
        u = self._force(None if V is None else V.u)
        delta, strain = t.value("delta_V_max"), t.value("eps_f_max")
        return (
            t.test, t.span, f_c, *(self._force(t.value(n)) for n in names),
            self._force(t.value("V_max"), bound=t.bound), u, self._force(t.value("V_max_applied"), bound=t.bound),
            "–" if delta is None else significant(shown(delta, "mm", self.system)[0], 3),
            "–" if strain is None else f"{strain * 1e6:.0f}",
            *(self._crack_cell(t, n) for n, _ in self._crack_names()), t.outcome or "not stated",
        )  # fmt: skip

    def _notes_on_tests(self) -> Iterable[Block]:
        lines = [(t.test, note) for t in self.reduced.tests.values() for note in t.notes]
        lines += list(self.reduced.skipped.items())
        if lines:
            columns = (Column("test", "", "left"), Column("what the reduction found", "", "left", prose=True))
            yield Table("Remarks of the reduction", columns, tuple(lines))

    def _curves(self) -> Iterable[Block]:
        from cracktie.figures.curves import shear_deflection
        from cracktie.figures.strains import strip_strains

        groups: dict[str, list[TestResult]] = {}
        for t in self.reduced.tests.values():
            groups.setdefault(self.campaign.group_of(t.specimen), []).append(t)
        yield Figure(
            shear_deflection(groups, system=self.system, simulated=self.reduced.simulated),
            "Shear against deflection by design group. Marks: bar = first flexural crack, cross = first diagonal "
            "crack, triangle = first debonding, circle = V_max; ≥ = lower bound.",
            f"Curves of shear against deflection, one panel a design group: {', '.join(groups)}",
        )
        strips = {name: self._strips_of(name) for name in self.reduced.tests}
        for picture, names in strip_strains(self.reduced.tests.values(), strips, system=self.system):
            yield Figure(
                picture,
                "Shear against the strain of the FRP, all gauges of a test in one panel, one colour and dash a strip "
                "(strip 1 nearest the left end). Levels: cross = first diagonal crack, triangle = first debonding, "
                "circle = V_max.",
                f"Shear against FRP strain, one panel a test: {', '.join(names)}",
            )

    def _strips_of(self, name: str) -> Mapping[str, int]:
        """Channel -> number of the strip it sits on."""
        from cracktie.campaign.layout import channels

        test, span = self.campaign.tests.get(name), self.reduced.tests[name].span
        layout = self.campaign.rig.layouts.get(test.layout or "") if test is not None else None
        if test is None or layout is None:
            return {}
        found = channels(layout, self.campaign.specimen(test.specimen), span)
        return {c.name: c.strip for c in found if c.strip is not None}

    def _force(self, value: float | None, *, bound: bool = False) -> str:
        return force_text(value, self.system, bound=bound)
