"""The report as a list of neutral blocks, in the order a reader needs them. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from cracktie.report.agreement import agreement_table
from cracktie.report.blocks import (
    Block,
    Column,
    Contents,
    Document,
    Figure,
    Heading,
    Note,
    Points,
    Table,
    Text,
    numbered,
)
from cracktie.report.coupons import coupon_table
from cracktie.report.findings import count
from cracktie.report.numbers import force_text, with_uncertainty
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.compared import Comparison
    from cracktie.prediction import Prediction
    from cracktie.prediction.mechanics import MechanicsPrediction
    from cracktie.reduced import Reduced

CAUTIONS = (
    "This report supports decisions; it does not replace them. A strengthening must be checked by a licensed engineer "
    "under the code in force where it is built, after an assessment of the existing structure.",
    "Shear and debonding failures are sudden: nobody in the plane of the span or under the beam above 80 % of the "
    "predicted load, and crack marking stops there.",
)


def build(
    campaign: Campaign,
    prediction: Prediction,
    reduced: Reduced,
    comparison: Comparison | None,
    mechanics: MechanicsPrediction | None = None,
) -> Document:
    """Put the report together from the results."""
    maker = _Maker(campaign, prediction, reduced, comparison)
    maker.mechanics = mechanics
    blocks = tuple(numbered(maker.blocks()))
    head = campaign.head
    subtitle = f"{count(len(campaign.specimens), 'specimen')}, {count(len(campaign.tests), 'test')}"
    return Document(head.title, subtitle, blocks, reduced.simulated, meta=_meta(campaign))


def _meta(campaign: Campaign) -> dict[str, str]:
    """`date` of the last test: the report reads no clock, so that the same folder gives the same bytes."""
    dates = sorted(str(t.date)[:10] for t in campaign.tests.values() if t.date is not None)
    return {"date": dates[-1]} if dates else {}


class _Maker:
    """Chapters in the order a reader needs them."""

    def __init__(
        self, campaign: Campaign, prediction: Prediction, reduced: Reduced, comparison: Comparison | None
    ) -> None:
        self.campaign, self.prediction, self.reduced, self.comparison = campaign, prediction, reduced, comparison
        self.mechanics: MechanicsPrediction | None = None
        self.system = campaign.head.shown_units
        self.unit = shown(1.0, "N", self.system)[1]
        self.length = shown(1.0, "mm", self.system)[1]

    def blocks(self) -> Iterable[Block]:
        """All blocks."""
        yield from self._front()
        if self.reduced.tests:
            from cracktie.report.results import ResultsChapter

            yield from ResultsChapter(self.campaign, self.prediction, self.reduced).blocks()
        if self.comparison is not None:
            yield from self._comparison(self.comparison)
        yield from self._predictions()
        if self.mechanics is not None:
            from cracktie.report.mechanics import mechanics_blocks

            yield from mechanics_blocks(self.mechanics, self.system)
        yield from self._specimens()
        yield from self._materials()
        yield from self._sheets()
        yield from self._origin()

    def force(self, value: float | None, *, bound: bool = False) -> str:
        """Force in the shown unit; a dash for none."""
        return force_text(value, self.system, bound=bound)

    def _front(self) -> Iterable[Block]:
        if self.campaign.head.invented:
            yield Note("Everything in this campaign is invented: places, beams and numbers. Nothing here may be "
                       "quoted or used as evidence.", "simulated")  # fmt: skip
        if self.reduced.simulated:
            yield Note("The logs are simulated. Agreement between them and any model is no evidence of anything.",
                       "simulated")  # fmt: skip
        yield from self._in_short()
        if self.campaign.head.note:
            yield Text(self.campaign.head.note)
        for caution in CAUTIONS:
            yield Note(caution, "caution")
        yield Contents()

    def _in_short(self) -> Iterable[Block]:
        from cracktie.report.findings import findings, what_was_tested

        lines = [what_was_tested(self.campaign, self.reduced)]
        if self.comparison is not None:
            lines += findings(self.comparison)
        elif self.reduced.simulated:
            lines.append("The logs are simulated, so nothing is compared.")
        yield Points(tuple(lines), "In short", box=True)

    def _comparison(self, found: Comparison) -> Iterable[Block]:
        from cracktie.figures.curves import gains, test_prediction

        yield Heading("Comparison", 1, "comparison")
        yield Text(
            f"Scatter between equal beams: coefficient of variation {100 * found.scatter.cv:.1f} %, "
            f"{found.scatter.dof:.1f} degrees of freedom; {found.scatter.origin}. A ratio counts as resolved only if "
            "its 95 % interval leaves out 1; 'not resolved' never means 'no effect'."
        )
        if found.contrasts:
            yield self._contrast_table(found)
        yield self._gain_table(found)
        picture = gains(found)
        if picture:
            yield Figure(picture, "V_max over each reference with 95 % intervals; arrows are lower bounds.",
                         "Intervals of the ratios of V_max over each reference role")  # fmt: skip
        yield from self._share_tables(found)
        yield from self._judgement(found)
        picture = test_prediction(found)
        if picture:
            yield Figure(picture, "Test over prediction, mean measured inputs, all factors 1.",
                         "Test over prediction of every test and guideline set")  # fmt: skip
        if found.left_out:
            columns = (Column("test", "", "left"), Column("left out, because", "", "left", prose=True))
            yield Table("Left out of the comparison", columns, tuple(found.left_out.items()))

    def _gain_table(self, found: Comparison) -> Table:
        columns = (
            Column("test", "", "left"), Column("over", "", "left"), Column("which are", "", "left", prose=True),
            Column("ratio of V_max"), Column("95 % interval"), Column("least ratio that would show"),
            Column("verdict", "", "left", prose=True),
        )  # fmt: skip
        rows = []
        for g in found.gains:
            r = g.ratio
            high = "open" if r.high is None else f"{r.high:.2f}"
            value = f"{'≥ ' if r.bound else ''}{r.value:.2f}"
            interval = f"{r.low:.2f} to {high}"
            rows.append((g.item, g.role, ", ".join(g.reference), value, interval, f"{r.critical:.2f}", r.verdict))
        return Table("Gains over the declared references", columns, tuple(rows))

    def _contrast_table(self, found: Comparison) -> Table:
        columns = (
            Column("contrast", "", "left"), Column("what over what", "", "left", prose=True),
            Column("tests", "", "left", prose=True),
            Column("ratio of V_max"), Column("95 % interval"), Column("least ratio that would show"),
            Column("verdict", "", "left", prose=True),
        )  # fmt: skip
        rows = []
        for c in found.contrasts:
            r = c.ratio
            tests = f"{', '.join(c.upper)} / {', '.join(c.lower)}"
            value = f"{'≥ ' if r.bound else ''}{r.value:.2f}"
            interval = f"{r.low:.2f} to {'open' if r.high is None else f'{r.high:.2f}'}"
            rows.append((c.name, c.what, tests, value, interval, f"{r.critical:.2f}", r.verdict))
        notes = tuple(f"{c.name}: {w}." for c in found.contrasts for w in c.warnings)
        return Table("Contrasts of the analysis plan (geometric means of V_max)", columns, tuple(rows), notes)

    def _share_tables(self, found: Comparison) -> Iterable[Block]:
        if not found.shares:
            return
        columns = (
            Column("test", "", "left"), Column("reference", "", "left", prose=True), Column("p", "", "left"),
            Column("V_max", self.unit, symbol="V_max"), Column("reference, scaled", self.unit),
            Column("of it V_c", self.unit), Column("of it V_s", self.unit), Column("V_f", self.unit, symbol="V_f"),
            Column("95 % interval", self.unit), Column("u, this beam", self.unit), Column("u, the design", self.unit),
            Column("u, instruments", self.unit),
        )  # fmt: skip
        rows = tuple(
            (s.test, ", ".join(s.reference), s.p, self.force(s.V_max, bound=s.bound), self.force(s.V_ctl_scaled),
             self.force(s.V_c), self.force(s.V_s), self.force(s.V_f, bound=s.bound),
             f"{self.force(s.low)} to {'open' if s.high is None else self.force(s.high)}", self.force(s.u_beam),
             self.force(s.u_design), self.force(s.u_instruments))
            for s in found.shares
        )  # fmt: skip
        notes = (
            "The concrete part of the reference is scaled by (ratio of f_c)^p; both usual exponents are shown.",
            f"V_s of the reference: {found.shares[0].V_s_how}.",
            "V_f by subtraction is apparent: it holds every change of V_c and V_s that the wrap causes.",
            "The interval is that of this beam, by draws of scatter between specimens (u, this beam), of instruments "
            "and of scaling; beams set against one reference share its scatter, so that their V_f move together.",
        )
        yield Table("Shares by subtraction", columns, rows, notes)
        if found.agreements:
            yield agreement_table(found.agreements, self.unit, self.force)
        if found.share_ratios:
            yield self._share_ratio_table(found)

    def _share_ratio_table(self, found: Comparison) -> Table:
        rows = []
        for r in found.share_ratios:
            high = "open" if r.high is None else f"{r.high:.2f}"
            interval = "unbounded" if r.low is None else f"{r.low:.2f} to {high}"
            rows.append((r.test, ", ".join(r.reference), f"{'≥ ' if r.bound else ''}{r.value:.2f}", interval))
        columns = (
            Column("test", "", "left"), Column("over", "", "left"), Column("V_f ratio"), Column("95 % interval"),
        )  # fmt: skip
        note = "Fieller's interval with the common control; 'unbounded': the reference V_f cannot be told from 0."
        return Table("V_f of anchored over unanchored wraps, same control", columns, tuple(rows), (note,))

    def _judgement(self, found: Comparison) -> Iterable[Block]:
        columns = (
            Column("guideline set", "", "left", prose=True), Column("n"), Column("of"), Column("mean"), Column("CV"),
            Column("least"), Column("greatest"), Column("left out", "", "left", prose=True),
        )  # fmt: skip
        rows = tuple(
            (s.title, str(s.n), str(s.of), *("–" if v is None else f"{v:.2f}" for v in (s.mean, s.cv, s.low, s.high)),
             ", ".join(s.left_out) or "none")
            for s in found.summaries
        )  # fmt: skip
        note = ("The form 'test' is not a calibrated mean: several documents are lower-bound fits.",)
        yield Table("Test over prediction (V_max / V_R)", columns, rows, note)

    def _predictions(self) -> Iterable[Block]:
        from cracktie.report.predictions import PredictionChapter

        yield from PredictionChapter(self.prediction, self.system).blocks()

    def _specimens(self) -> Iterable[Block]:
        from cracktie.report.drawings import specimen_figures

        yield Heading("Specimens", 1, "specimens")
        for name, members in self.campaign.groups.items():
            first = self.campaign.specimens[members[0]]
            yield Heading(name if members == (name,) else f"{name}: {', '.join(members)}", 2)
            if first.note:
                yield Text(first.note)
            if first.kind == "beam":
                yield from specimen_figures(self.campaign, first)

    def _materials(self) -> Iterable[Block]:
        yield Heading("Materials", 1, "materials")
        rows = []
        for batch, c in self.campaign.materials.concretes.items():
            rows += [(f"concrete {batch}", f"f_c, {t.shape}, {t.age:g} d", *_number(t.f_c), "MPa") for t in c.strength]
            if c.nominal is not None and c.nominal.f_c is not None:
                rows.append((f"concrete {batch}", "f_c, nominal", *_number(c.nominal.f_c), "MPa"))
        for name, bar in self.campaign.materials.bars.items():
            for kind in ("measured", "nominal"):
                entry = getattr(bar, kind)
                rows += [(f"bar {name}", f"{n}, {kind}", *_number(getattr(entry, n)), "MPa")
                         for n in ("f_y", "f_u") if entry is not None and getattr(entry, n) is not None]  # fmt: skip
        for name, frp in self.campaign.materials.frp_systems.items():
            rows.append((f"FRP {name}", f"thickness of one ply ({frp.convention})", *_number(frp.thickness), "mm"))
            for kind in ("mean", "characteristic", "guaranteed"):
                entry = getattr(frp, kind)
                for n, unit in (("E_f", "MPa"), ("f_fu", "MPa"), ("eps_fu", "-")):
                    if entry is not None and getattr(entry, n) is not None:
                        rows.append((f"FRP {name}", f"{n}, {kind}", *_number(getattr(entry, n)), unit))
        columns = (
            Column("material", "", "left"), Column("property", "", "left", prose=True), Column("value"), Column("u"),
            Column("unit", "", "left"),
        )  # fmt: skip
        yield Table("Material properties as entered, or computed from coupons", columns, tuple(rows))
        if self.campaign.coupons:
            yield coupon_table(self.campaign.coupons)

    def _sheets(self) -> Iterable[Block]:
        from cracktie.report.chosen_sheets import chosen_sheets

        yield Heading("Calculation sheets", 1, "sheets")
        yield from chosen_sheets(self.prediction, self.system)

    def _origin(self) -> Iterable[Block]:
        from cracktie.report.steps import step_tables

        yield Heading("Where the numbers come from", 1, "origin")
        rows = [(name, digest[:16]) for name, digest in sorted(self.campaign.sources.items())]
        columns = (Column("file", "", "left"), Column("SHA-256, first 16 digits", "", "left"))
        if rows:
            yield Table("Files this report was made from", columns, tuple(rows))
        else:
            yield Text("The campaign was given in memory; there are no files to name.")
        yield from step_tables(self.reduced)


def _number(value: Any) -> tuple[str, str]:
    if value.u:
        return with_uncertainty(float(value), value.u)
    return f"{float(value):.6g}", "–"
