"""Prediction: every guideline set on every span, with the reason where a set does not apply."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.clause import LEVELS, Evaluation, Keep, Model, evaluate, get
from cracktie.errors import UnknownName
from cracktie.guidelines import GuidelineSet, guideline_set
from cracktie.member import Member, MissingValue, member
from cracktie.results import Quantity, finite, frame, versioned

if TYPE_CHECKING:
    import pandas

    from cracktie.trace import CalculationSheet

EDITION = {"si": "si", "us": "inch-pound"}
"""Edition of two-unit documents that goes with the campaign's shown units."""

_KEPT = ("V_s_truss", "V_max_strut", "V_sf", "V_sf_max", "f_fe_rupture", "f_fe", "eps_fe", "eps_fe_cap")


@dataclass(frozen=True)
class SetPrediction:
    """One guideline set on one span. Forces in N; a value is None where the set does not apply (`reasons`)."""

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

    @property
    def item(self) -> str:
        """What a table calls this row: the test where there is one, else specimen and span."""
        return self.test or f"{self.specimen}/{self.span}"

    @property
    def applicable(self) -> bool:
        """Whether the set gives a resistance here."""
        return self.V_R is not None

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows."""
        more = {
            "specimen": self.specimen, "span": self.span, "form": self.form, "edition": self.edition,
            "inputs": self.choice, "governing": self.governing, "outside": list(self.outside),
        }  # fmt: skip
        reason = "; ".join(self.reasons)
        for name in ("V_c", "V_s", "V_f", "V_R"):
            u = self.u_V_R if name == "V_R" else None
            value = getattr(self, name)
            missing = reason if value is None else ""
            yield Quantity(self.item, name, self.set, value, "N", u, self.status, missing, more=more)


@dataclass(frozen=True)
class Prediction:
    """All predictions of a campaign. `members` holds the inputs by (specimen, span, test)."""

    title: str
    form: str
    choice: str
    rows: tuple[SetPrediction, ...]
    members: Mapping[tuple[str, str, str | None], Member]
    skipped: Mapping[str, str] = field(default_factory=dict)

    def of(self, item: str) -> tuple[SetPrediction, ...]:
        """Rows of one test (or specimen/span); raises `UnknownName`."""
        found = tuple(r for r in self.rows if item in (r.item, r.specimen))
        if not found:
            raise UnknownName(f"nothing is predicted for {item!r}")
        return found

    def to_frame(self, *, wide: bool = False) -> pandas.DataFrame:
        """Tidy pandas table, or one row an item."""
        return frame((q for row in self.rows for q in row.quantities()), wide=wide)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        inputs = [
            {
                "specimen": m.specimen,
                "span": m.span,
                "test": key[2],
                "values": {n: v if isinstance(v, (str, bool)) else finite(v) for n, v in m.values.items()},
                "sources": dict(m.sources),
                "u": dict(m.u),
                "notes": list(m.notes),
            }
            for key, m in self.members.items()
        ]
        rows = [q.to_dict() for row in self.rows for q in row.quantities()]
        body = {"title": self.title, "form": self.form, "inputs_choice": self.choice, "rows": rows, "inputs": inputs}
        return versioned("prediction", {**body, "skipped": dict(self.skipped)})

    def sheets(self, row: SetPrediction) -> tuple[CalculationSheet, ...]:
        """Calculation sheets of one row, one per model of its set."""
        made = self.members[(row.specimen, row.span, row.test)]
        return set_sheets(made, guideline_set(row.set, host=_host_of(row)), row.form, row.edition)


def _host_of(row: SetPrediction) -> str | None:
    return next((n.split(": ", 1)[1] for n in row.notes if n.startswith("host: ")), None)


def predict_campaign(
    campaign: Campaign, *, form: str = "test", choice: str | None = None, sets: Iterable[str] | None = None
) -> Prediction:
    """Predict the studied span of every test, and both spans of every specimen without a test.

    `form` 'test' takes measured values where present, 'design' characteristic ones, unless `choice` says otherwise.
    A specimen that lacks a value is listed in `skipped` with the reason; nothing is guessed.
    """
    choice = choice or ("measured" if form == "test" else "characteristic")
    chosen = [guideline_set(s, host=campaign.head.host) for s in (sets or campaign.head.guideline_sets)]
    rows: list[SetPrediction] = []
    members: dict[tuple[str, str, str | None], Member] = {}
    skipped: dict[str, str] = {}
    for specimen_id, span, name, test in _targets(campaign):
        try:
            bare = name is not None and campaign.bare(name)
            made = member(campaign, specimen_id, span, choice=choice, test=test, bare=bare)
        except MissingValue as error:
            skipped[name or f"{specimen_id}/{span}"] = str(error)
            continue
        members[(specimen_id, span, name)] = made
        edition = EDITION[campaign.head.shown_units]
        rows += [predict_set(made, s, form=form, edition=edition, test=name) for s in chosen]
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


def model_inputs(made: Member, chosen: GuidelineSet, form: str, edition: str) -> dict[str, Any]:
    """Everything the models of a set may ask for on this member."""
    inputs = {"C_E": 1.0, **made.values, "form": form, "edition": edition}
    inputs.update(chosen.prepare(inputs))
    return inputs


def predict_set(
    made: Member, chosen: GuidelineSet, *, form: str = "test", edition: str = "si", test: str | None = None
) -> SetPrediction:
    """One guideline set on one member."""
    inputs = model_inputs(made, chosen, form, edition)
    keep = Keep(*_KEPT)
    terms, problems = _terms(made, chosen, inputs, keep)
    used = [t for t in terms.values() if t is not None]
    outside = tuple(f"{limit.sentence()}" for t in used for limit, _ in t.outside)
    status = min((t.status for t in used), key=lambda s: LEVELS.index(s.level), default=None)
    value = {n: None if t is None or not t.applicable else float(t.value) for n, t in terms.items()}
    total = u = None
    if not problems:
        total = _sum(chosen, inputs, value, keep)
        u = _input_uncertainty(made, chosen, form, edition, total)
    adds = (value["V_c"] is not None and chosen.rule.startswith("V_c + V_s")) or chosen.research
    return SetPrediction(
        specimen=made.specimen, span=made.span, test=test, set=chosen.id, title=chosen.title, rule=chosen.rule,
        form=form, edition=edition, choice=made.choice, V_c=value["V_c"], V_s=value["V_s"], V_f=value["V_f"],
        V_R=total, u_V_R=u, adds_concrete=adds, strengthened=made.strengthened,
        governing=_governing(chosen, value, keep.values) if total is not None else "",
        status=status.level if status else "", status_how=status.how if status else "",
        reasons=tuple(problems), outside=outside,
        notes=made.notes + ((f"host: {chosen.host}",) if chosen.host else ()),
    )  # fmt: skip


def _terms(
    made: Member, chosen: GuidelineSet, inputs: Mapping[str, Any], keep: Keep
) -> tuple[dict[str, Evaluation | None], list[str]]:
    terms: dict[str, Evaluation | None] = {"V_c": None, "V_s": None, "V_f": None}
    problems: list[str] = []
    wanted = {"V_c": chosen.concrete, "V_s": chosen.stirrups if inputs["A_sw"] > 0 else None}
    if made.strengthened and chosen.frp is None:
        problems.append(chosen.scope or "the set has no FRP term")
    elif made.strengthened:
        wanted["V_f"] = chosen.frp
    if chosen.research and not made.strengthened:
        problems.append("the source gives an FRP term only; this span has no FRP")
    for name, id in wanted.items():
        if id is None:
            continue
        model = get(id)
        lacking = [n for n in model.inputs if n not in inputs]
        if lacking:
            problems.append(f"{model.title}: {', '.join(lacking)} not given")
            continue
        terms[name] = evaluate(model, inputs, step=keep)
        problems += [f"{model.title}: {reason.sentence}" for reason, _ in terms[name].reasons]  # type: ignore[union-attr]
    return terms, problems


def _sum(chosen: GuidelineSet, inputs: Mapping[str, Any], value: Mapping[str, float | None], keep: Keep) -> float:
    return float(evaluate(chosen.resistance, _sum_inputs(inputs, value), step=keep).value)


def _sum_inputs(inputs: Mapping[str, Any], value: Mapping[str, float | None]) -> dict[str, Any]:
    return {"scheme": "u", **inputs, **{n: v if v is not None else 0.0 for n, v in value.items()}}


def _input_uncertainty(made: Member, chosen: GuidelineSet, form: str, edition: str, total: float) -> float | None:
    """First-order standard uncertainty of V_R from the stated uncertainties of its inputs (model error not in it)."""
    if not made.u:
        return None
    square = 0.0
    for name, u in made.u.items():
        moved = Member(made.specimen, made.span, made.choice, {**made.values, name: made.values[name] + u}, {}, {})
        inputs = model_inputs(moved, chosen, form, edition)
        terms, problems = _terms(moved, chosen, inputs, Keep())
        if problems:
            continue
        value = {n: None if t is None else float(t.value) for n, t in terms.items()}
        square += (_sum(chosen, inputs, value, Keep()) - total) ** 2
    return square**0.5


def _governing(chosen: GuidelineSet, value: Mapping[str, float | None], kept: Mapping[str, Any]) -> str:
    words = []
    if chosen.resistance == "resistance.ec2_2004":
        if value["V_s"] is None or (value["V_c"] or 0.0) >= value["V_s"]:
            return "concrete term alone (V_Rd,c)"
        return "web crushing" if kept["V_max_strut"] <= kept["V_s_truss"] * (1 + 1e-9) else "stirrup yield"
    if "V_sf_max" in kept and kept["V_sf"] >= kept["V_sf_max"] * (1 - 1e-12):
        return "cap on V_s + V_f (web crushing)"
    if "f_fe_rupture" in kept:
        bond = kept.get("f_fe", kept["f_fe_rupture"]) < kept["f_fe_rupture"] * (1 - 1e-12)
        words.append("debonding" if bond else "FRP rupture")
    elif "eps_fe" in kept:
        words.append("strain cap" if kept["eps_fe"] >= kept["eps_fe_cap"] * (1 - 1e-12) else "debonding strain")
    return "diagonal tension" + (f", FRP at {words[0]}" if words else "")


def set_sheets(made: Member, chosen: GuidelineSet, form: str, edition: str) -> tuple[CalculationSheet, ...]:
    """Calculation sheets of a set on a member, the sum last (left out where a term does not apply)."""
    from cracktie.trace import trace_model

    inputs = model_inputs(made, chosen, form, edition)
    terms, problems = _terms(made, chosen, inputs, Keep())
    value = {n: None if t is None or not t.applicable else float(t.value) for n, t in terms.items()}
    models: list[Model] = [get(t.model) for t in terms.values() if t is not None]
    sheets = [trace_model(m, inputs) for m in models]
    if not problems:
        sheets.append(trace_model(get(chosen.resistance), _sum_inputs(inputs, value)))
    return tuple(sheets)
