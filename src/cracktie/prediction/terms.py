"""One guideline set on one member: its terms, its sum, what governs, and the uncertainty its inputs bring."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.clause import LEVELS, Evaluation, Model, Status, evaluate, get
from cracktie.errors import CracktieError
from cracktie.guidelines import GuidelineSet
from cracktie.member import Member
from cracktie.models.inch_pound import KIP
from cracktie.symbols import known, plain, symbol

TERMS = ("V_c", "V_s", "V_f")


class Steps:
    """A step that keeps every intermediate of one run by name."""

    def __init__(self) -> None:
        self.values: dict[str, Any] = {}

    def __call__(self, name: str, value: Any, unit: str = "-", where: str = "", text: str = "") -> Any:
        self.values[name] = value
        return value


@dataclass(frozen=True)
class Run:
    """One model run on one member: what it gave, and what it met on the way."""

    made: Model
    found: Evaluation
    seen: Mapping[str, Any]

    @property
    def value(self) -> float | None:
        """The value; None where the model does not apply."""
        return float(self.found.value) if self.found.applicable else None

    def share(self, name: str) -> float | None:
        """A share of the result that the run itself recorded, N."""
        if f"{name}_kip" in self.seen:
            return float(self.seen[f"{name}_kip"]) * KIP
        return float(self.seen[name]) if name in self.seen else None


@dataclass(frozen=True)
class SetRun:
    """A set on a member. `chosen` is the set as it stands for this member; forces in N, None where there is none."""

    chosen: GuidelineSet
    terms: Mapping[str, Run]
    total: Run | None
    problems: tuple[str, ...]
    inputs: Mapping[str, Any]

    @property
    def runs(self) -> tuple[Run, ...]:
        """All runs, the sum last."""
        return (*self.terms.values(), *((self.total,) if self.total is not None else ()))

    @property
    def V_R(self) -> float | None:
        """The resistance."""
        return None if self.total is None else self.total.value

    @property
    def shares(self) -> dict[str, float | None]:
        """V_c, V_s and V_f; None where the set has no such term, or a bound leaves the sum undivided."""
        value = {n: self.terms[n].value if n in self.terms else None for n in TERMS}
        whole = self.terms.get("V_cs")
        if whole is not None and whole.value is not None:
            parts = {n: whole.share(n) for n in ("V_c", "V_s")}
            value |= parts if _adds_up(parts, whole.value) else {}
        if self.total is not None and self.chosen.inside:
            names = {"V_f", *self.chosen.inside} if value["V_f"] is not None else set(self.chosen.inside)
            parts = {n: _share_or(self.total, n, value[n]) for n in TERMS if n in names}
            if not self.chosen.adds_concrete or _adds_up(parts, self.total.value):
                value |= parts
        return value

    @property
    def outside(self) -> tuple[str, ...]:
        """Exceeded ranges in words, each with the model that states it."""
        return tuple(f"{_range(limit)} [{run.made.title}]" for run in self.runs for limit, _ in run.found.outside)

    @property
    def status(self) -> Status | None:
        """The weakest status of the models used."""
        return min((r.found.status for r in self.runs), key=lambda s: LEVELS.index(s.level), default=None)

    @property
    def governing(self) -> str:
        """What limits the resistance; empty without one."""
        if self.total is None:
            return ""
        said = {n: _words(run, {}) for n, run in self.terms.items()}
        return _words(self.total, {"said": {n: word for n, word in said.items() if word}})


def _share_or(total: Run, name: str, other: float | None) -> float | None:
    found = total.share(name)
    return other if found is None else found


def _adds_up(parts: Mapping[str, float | None], whole: float | None) -> bool:
    known_parts = [v for v in parts.values() if v is not None]
    return whole is not None and len(known_parts) == len(parts) and abs(sum(known_parts) - whole) <= 1e-6 * abs(whole)


def _range(limit: Any) -> str:
    return str(limit.sentence(symbol(limit.name).unit if known(limit.name) else ""))


def _words(run: Run, more: Mapping[str, Any]) -> str:
    if run.made.governs is None or not run.found.applicable:
        return ""
    return run.made.governs({**run.made.coefficients, **run.seen, **more})


def model_inputs(made: Member, chosen: GuidelineSet, edition: str, values: Mapping[str, Any] | None = None) -> Any:
    """Everything the models of a set may ask for on this member; `values` in place of the member's own."""
    inputs = {**(made.values if values is None else values), "form": made.form, "edition": edition}
    inputs.update(chosen.prepare(inputs))
    return inputs


def run_set(made: Member, chosen: GuidelineSet, edition: str) -> SetRun:
    """One set on one member; what is missing or does not apply stands in `problems`, never raised."""
    inputs = model_inputs(made, chosen, edition)
    fitted = chosen.on(inputs)
    wanted, problems = _wanted(made, fitted, inputs)
    terms: dict[str, Run] = {}
    for name, id in wanted.items():
        run, troubles = _run(get(id), inputs, made.missing)
        problems += troubles
        if run is not None:
            terms[name] = run
    total = None
    if not problems and fitted.resistance is not None:
        value = {n: run.value for n, run in terms.items()}
        total, troubles = _run(get(fitted.resistance), sum_inputs(fitted, inputs, value), made.missing)
        problems += troubles
    return SetRun(fitted, terms, total if not problems else None, tuple(dict.fromkeys(problems)), inputs)


def _wanted(made: Member, chosen: GuidelineSet, inputs: Mapping[str, Any]) -> tuple[dict[str, str], list[str]]:
    """Models of the terms by name, and why the set gives no resistance as far as that is clear beforehand."""
    problems = []
    stirrups = bool(np.all(np.asarray(inputs["A_sw"]) > 0.0))
    if chosen.together is not None and stirrups:
        terms = {"V_cs": chosen.together}
    else:
        own = {"V_c": chosen.concrete, "V_s": chosen.stirrups if stirrups else None}
        terms = {n: id for n, id in own.items() if id is not None}
    if made.strengthened and chosen.frp is None:
        problems.append(chosen.scope or "the set has no FRP term")
    elif made.strengthened and chosen.frp is not None:
        terms["V_f"] = chosen.frp
    if not made.strengthened and (chosen.research or chosen.resistance is None):
        problems.append("the source gives an FRP term only; this span has no FRP")
    elif chosen.resistance is None:
        problems.append(chosen.scope)
    return terms, problems


def _run(made: Model, inputs: Mapping[str, Any], missing: Mapping[str, str]) -> tuple[Run | None, list[str]]:
    lacking = [n for n in made.inputs if n not in inputs]
    if lacking:
        said = dict.fromkeys(missing.get(n, f"{plain(n)} is not given") for n in lacking)
        return None, [f"{made.title}: {'; '.join(said)}"]
    step = Steps()
    try:
        found = evaluate(made, inputs, step=step)
    except CracktieError as error:
        return None, [f"{made.title}: {error}"]
    run = Run(made, found, {**{n: inputs[n] for n in made.inputs}, **step.values})
    return run, [f"{made.title}: {reason.sentence}" for reason, _ in found.reasons]


def sum_inputs(chosen: GuidelineSet, inputs: Mapping[str, Any], value: Mapping[str, Any]) -> dict[str, Any]:
    """Inputs of the sum; terms that are not there count as 0."""
    forces = {n: value.get(n) for n in (*TERMS, "V_cs")}
    forces["V_f_45"] = forces["V_f"]
    if forces["V_cs"] is None:
        forces["V_cs"] = forces["V_c"]
    filled = {n: 0.0 if v is None else v for n, v in forces.items()}
    return {"scheme": "u", "beta": 90.0, **inputs, **filled, "phi_host": chosen.phi}


def input_uncertainty(made: Member, run: SetRun, edition: str) -> float | None:
    """First-order standard uncertainty of V_R from the stated uncertainties of its inputs (model error not in it).

    Each input is moved up by its uncertainty, and down where the set would not apply above; left out where it applies
    on neither side. None without uncertain inputs.
    """
    if not made.u or run.V_R is None:
        return None
    change = _changes(made, run, edition, 1.0)
    if not np.all(np.isfinite(change)):
        change = np.where(np.isfinite(change), change, _changes(made, run, edition, -1.0))
    return float(np.sqrt(np.nansum(change**2)))


def _changes(made: Member, run: SetRun, edition: str, sign: float) -> Any:
    """Change of V_R (N) with each uncertain input, by one run over arrays; NaN where a term then does not apply."""
    names = list(made.u)
    moves = {n: np.full(len(names), float(made.values[n])) for n in names}
    for row, n in enumerate(names):
        moves[n][row] += sign * made.u[n]
    inputs = model_inputs(made, run.chosen, edition, made.moved(**moves))
    fits = np.ones(len(names), dtype=bool)
    value: dict[str, Any] = {}
    for n, term in run.terms.items():
        found = evaluate(term.made, inputs)
        fits &= np.broadcast_to(found.applicable, fits.shape)
        value[n] = np.where(found.applicable, found.value, term.value)
    assert run.total is not None
    moved = evaluate(run.total.made, sum_inputs(run.chosen, inputs, value))
    fits &= np.broadcast_to(moved.applicable, fits.shape)
    return np.where(fits, np.asarray(moved.value, dtype=float) - run.V_R, np.nan)
