"""Prediction: every guideline set on every span, with the reason where a set does not apply.

Beside the shear resistance of the studied span stand the moment of the section and the other span under the same
loading, both as shear in the studied span, so that the reader sees what fails first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import UnknownName
from cracktie.guidelines import GuidelineSet, all_sets, guideline_set
from cracktie.member import Member, MissingValue, member
from cracktie.prediction.beside import NOTHING_BESIDE, Beside, Item, Others, other_member
from cracktie.prediction.flexure import HOW
from cracktie.prediction.terms import input_uncertainty, run_set, sum_inputs
from cracktie.results import Quantity, finite, frame, versioned

if TYPE_CHECKING:
    import pandas

    from cracktie.trace import CalculationSheet

EDITION = {"si": "si", "us": "inch-pound"}
"""Edition of two-unit documents that goes with the campaign's shown units."""


@dataclass(frozen=True)
class SetPrediction:
    """One guideline set on one span. Forces in N; a value is None where the set does not apply (`reasons`).

    V_c, V_s and V_f are None as well where a bound leaves the resistance undivided. `host` is the set a research term
    stands on; `beside` holds what else may fail first under the same loading.
    """

    specimen: str
    span: str
    test: str | None
    set: str
    title: str
    rule: str
    form: str
    edition: str
    choice: str
    V_c: float | None
    V_s: float | None
    V_f: float | None
    V_R: float | None
    u_V_R: float | None
    adds_concrete: bool
    strengthened: bool
    governing: str
    status: str
    status_how: str
    reasons: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    host: str | None = None
    beside: Beside = NOTHING_BESIDE

    @property
    def item(self) -> str:
        """What a table calls this row: the test where there is one, else specimen and span."""
        return self.test or f"{self.specimen}/{self.span}"

    @property
    def applicable(self) -> bool:
        """Whether the set gives a resistance here."""
        return self.V_R is not None

    @property
    def margin(self) -> float | None:
        """Least of the other resistances, as shear in the studied span, over V_R; None where none is known."""
        return self.beside.margin(self.V_R)

    @property
    def first(self) -> str:
        """What fails first, in words; empty where nothing can be compared."""
        return self.beside.first(self.V_R)

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows."""
        more = {
            "specimen": self.specimen, "span": self.span, "form": self.form, "edition": self.edition,
            "inputs": self.choice, "governing": self.governing, "first": self.first, "outside": list(self.outside),
        }  # fmt: skip
        for name in ("V_c", "V_s", "V_f", "V_R"):
            u = self.u_V_R if name == "V_R" else None
            value = getattr(self, name)
            why = self._why_none(name) if value is None else ""
            yield Quantity(self.item, name, self.set, value, "N", u, self.status, why, more=more)
        for name in ("V_R_other", "V_other"):
            value = getattr(self.beside, name)
            why = self.beside.why_no_other if value is None else ""
            yield Quantity(self.item, name, self.set, value, "N", None, self.beside.status, why, more=more)
        why = "; ".join(self.reasons) or self.beside.why_no_other or "no other resistance is known"
        why = why if self.margin is None else ""
        yield Quantity(self.item, "margin", self.set, self.margin, "-", None, self.status, why, more=more)

    def _why_none(self, name: str) -> str:
        """Why a term has no value."""
        if name == "V_f" and not self.strengthened:
            return "no FRP in this span"
        return "; ".join(self.reasons) or "the set has no such term here"


@dataclass(frozen=True)
class Prediction:
    """All predictions of a campaign. `members` holds the inputs by (specimen, span, test)."""

    title: str
    form: str
    choice: str
    rows: tuple[SetPrediction, ...]
    members: Mapping[tuple[str, str, str | None], Member]
    skipped: Mapping[str, str] = field(default_factory=dict)

    @property
    def items(self) -> tuple[str, ...]:
        """Tests, or spans without a test, in their order."""
        return tuple(dict.fromkeys(r.item for r in self.rows))

    @property
    def sets(self) -> tuple[str, ...]:
        """Ids of the guideline sets in their order."""
        return tuple(dict.fromkeys(r.set for r in self.rows))

    def of(self, item: str) -> tuple[SetPrediction, ...]:
        """Rows of one test (or specimen/span); raises `UnknownName`."""
        found = tuple(r for r in self.rows if item in (r.item, r.specimen))
        if not found:
            there = dict.fromkeys([*self.items, *(r.specimen for r in self.rows)])
            raise UnknownName(f"nothing is predicted for {item!r}; there are {', '.join(there) or 'no predictions'}")
        return found

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows of every set, and the flexural resistance once an item."""
        flexed: set[str] = set()
        for row in self.rows:
            if row.item not in flexed:
                flexed.add(row.item)
                more = {"specimen": row.specimen, "span": row.span, "form": row.form, "inputs": row.choice,
                        "governing": row.beside.flexure, "how": HOW}  # fmt: skip
                value, why = row.beside.V_flex, row.beside.why_no_flexure
                yield Quantity(row.item, "V_flex", "flexure", value, "N", None, "own", why, more=more)
            yield from row.quantities()

    def to_frame(self, *, wide: bool = False) -> pandas.DataFrame:
        """Tidy pandas table, or one row an item."""
        return frame(self.quantities(), wide=wide)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        inputs = [
            {
                "specimen": m.specimen,
                "span": m.span,
                "test": key[2],
                "values": {n: v if isinstance(v, (str, bool)) else finite(v) for n, v in m.values.items()},
                "sources": {n: source for n, source in m.sources.items() if n in m.values},
                "missing": dict(m.missing),
                "u": dict(m.u),
                "notes": list(m.notes),
            }
            for key, m in self.members.items()
        ]
        sets = {r.set: {"title": r.title, "host": r.host} for r in self.rows}
        rows = [q.to_dict() for q in self.quantities()]
        body = {"title": self.title, "form": self.form, "inputs_choice": self.choice, "sets": sets, "rows": rows,
                "inputs": inputs}  # fmt: skip
        return versioned("prediction", {**body, "skipped": dict(self.skipped)})

    def sheets(self, row: SetPrediction) -> tuple[CalculationSheet, ...]:
        """Calculation sheets of one row, one per model of its set."""
        made = self.members[(row.specimen, row.span, row.test)]
        return set_sheets(made, guideline_set(row.set, host=row.host), row.edition)


def predict_campaign(
    campaign: Campaign, *, form: str = "test", choice: str | None = None, sets: Iterable[str] | None = None
) -> Prediction:
    """Predict the studied span of every test, and both spans of every specimen without a test.

    `form` 'test' takes measured values where present, 'design' characteristic ones, unless `choice` says otherwise.
    A specimen that lacks a value is listed in `skipped` with the reason; nothing is guessed.
    """
    choice = choice or ("measured" if form == "test" else "characteristic")
    wanted = list(sets or campaign.head.guideline_sets)
    if wanted == ["all"]:
        wanted = [s.id for s in all_sets()]
    chosen = [guideline_set(s, host=campaign.head.host) for s in wanted]
    edition = EDITION[campaign.head.shown_units]
    rows: list[SetPrediction] = []
    members: dict[tuple[str, str, str | None], Member] = {}
    skipped: dict[str, str] = {}
    for specimen_id, span, name, test in _targets(campaign):
        bare = name is not None and campaign.bare(name)
        try:
            made = member(campaign, specimen_id, span, choice=choice, test=test, bare=bare, form=form)
        except MissingValue as error:
            skipped[name or f"{specimen_id}/{span}"] = str(error)
            continue
        members[(specimen_id, span, name)] = made
        item = Item(campaign, campaign.specimen(specimen_id), made, test, name)
        others = Others(item, other_member(item, bare), edition)
        rows += [predict_set(made, s, edition=edition, test=name, others=others) for s in chosen]
    return Prediction(campaign.head.title, form, choice, tuple(rows), members, skipped)


def _targets(campaign: Campaign) -> Iterable[tuple[str, str, str | None, Test | None]]:
    for id, specimen in campaign.specimens.items():
        tests = campaign.tests_of(id)
        if specimen.kind != "beam":
            continue
        for name, test in tests.items():
            yield id, test.studied or specimen.tested_span or "A", name, test
        if not tests:
            for span in specimen.spans:
                yield id, span, None, None


def predict_set(
    made: Member,
    chosen: GuidelineSet,
    *,
    edition: str = "si",
    test: str | None = None,
    others: Others | None = None,
) -> SetPrediction:
    """One guideline set on one member; `others` adds what else may fail first."""
    run = run_set(made, chosen, edition)
    shares, status = run.shares, run.status
    return SetPrediction(
        specimen=made.specimen, span=made.span, test=test, set=chosen.id, title=chosen.title, rule=run.chosen.rule,
        form=made.form, edition=edition, choice=made.choice, V_c=shares["V_c"], V_s=shares["V_s"], V_f=shares["V_f"],
        V_R=run.V_R, u_V_R=input_uncertainty(made, run, edition), adds_concrete=run.chosen.adds_concrete,
        strengthened=made.strengthened, governing=run.governing,
        status=status.level if status else "", status_how=status.how if status else "",
        reasons=run.problems, outside=tuple(dict.fromkeys(run.outside)),
        notes=(*made.notes, *((chosen.note,) if chosen.note else ())), host=chosen.host,
        beside=others.of(chosen) if others is not None else NOTHING_BESIDE,
    )  # fmt: skip


def set_sheets(made: Member, chosen: GuidelineSet, edition: str) -> tuple[CalculationSheet, ...]:
    """Calculation sheets of a set on a member, the sum last (left out where a term does not apply)."""
    from cracktie.trace import trace_model

    run = run_set(made, chosen, edition)
    sheets = [trace_model(term.made, run.inputs) for term in run.terms.values()]
    if run.total is not None:
        value = {n: term.value for n, term in run.terms.items()}
        sheets.append(trace_model(run.total.made, sum_inputs(run.chosen, run.inputs, value)))
    return tuple(sheets)
