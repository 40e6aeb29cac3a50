"""From one number of a test back to the rows of its raw files, in words."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cracktie.campaign.schema import Campaign
from cracktie.errors import UnknownName
from cracktie.lab.budget import Budget, Simulated, tolerance
from cracktie.lab.trail import Step
from cracktie.reduced import Mark, TestResult
from cracktie.results import Quantity, versioned
from cracktie.symbols import plain
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.reduction.signals import Signals

READS = {
    "P_max": ("load",), "V_": ("load",), "delta_": ("displacement",), "K_": ("load", "displacement"),
    "W_": ("load", "displacement"), "mu_": ("load", "displacement"), "eps_f": ("FRP strain",),
    "V_f_strain": ("load", "FRP strain"), "V_s_meas": ("load", "bar strain"),
    "V_f_gauge": ("load", "FRP strain"), "V_s_nom": (),
    "V_c_eq": ("load", "FRP strain", "bar strain"), "V_cs_eq": ("load", "FRP strain"),
    "gamma_": ("diagonal displacement",), "delta_shear": ("diagonal displacement",), "theta": (),
    "delta_flex": ("displacement", "diagonal displacement"), "twist_": ("displacement",),
    "eps_f_line": (), "D_f_line": (),
    "w_cr": ("crack opening", "diagonal displacement"), "v_cr": ("crack sliding", "diagonal displacement"),
}  # fmt: skip
"""Beginning of a quantity's name -> measured quantities it is made from; the longest beginning counts."""
PROFILED = ("eps_f_line", "D_f_line", "V_f_strain", "eps_fe", "V_c_eq", "V_cs_eq")
"""Beginnings of quantities that may rest on a strain profile, whose steps are told with them alone."""
EVENTS = {"V_cr": "first flexural crack", "V_dia": "first diagonal crack", "V_deb": "first debonding"}
"""Quantities that belong to an event; all others belong to V_max or to the level in their name."""
SHARES = {
    "V_f_strain": ("V_f_strain",), "V_f_gauge": ("V_f_strain",), "eps_fe": ("V_f_strain",), "V_s_meas": ("V_s_meas",),
    "V_c_eq": ("V_f_strain", "V_s_meas"), "V_cs_eq": ("V_f_strain",),
}  # fmt: skip
"""Steps that tell which gauges a share was made from."""
CONVERSIONS: dict[tuple[Any, Any], str] = {
    (1e-6, "-"): "um/m to ratio",
    (0.01, "-"): "% to ratio",
    (1000.0, "N"): "kN to N",
    (1000.0, "mm"): "m to mm",
}
"""Factors that only change the unit."""
SAMPLES = 100_000
"""Draws of the Monte Carlo beside the first order."""
SMALL = 0.005
"""Share of u^2 below which components are told together."""
STATES = {
    "same": "unchanged since it was last reduced",
    "ends": "line ends changed, content the same: some program or version control converted it; restore the original",
    "other": "content changed since it was last reduced",
    "first": "not reduced before, nothing to compare with",
    "gone": "the file is not there any more",
}


@dataclass(frozen=True)
class Explanation:
    """The chain behind one number; `sections` are headings with lines, in the order from result to raw file."""

    test: str
    quantity: str
    sections: tuple[tuple[str, tuple[str, ...]], ...]

    def lines(self) -> list[str]:
        """Plain text."""
        out: list[str] = []
        for heading, lines in self.sections:
            out += [heading, *(f"   {line}" for line in lines)]
        return out

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        sections = [{"heading": h, "lines": list(lines)} for h, lines in self.sections]
        return versioned("explanation", {"test": self.test, "quantity": self.quantity, "sections": sections})


def explain(campaign: Campaign, name: str, quantity: str, *, samples: int = SAMPLES) -> Explanation:
    """Reduce a test anew and tell where one of its numbers comes from; raises `UnknownName` with what there is.

    `samples` draws of all errors give a Monte Carlo interval beside the first-order one; 0 for none.
    """
    from cracktie.reduction import reduced_with_signals

    if name not in campaign.tests:
        raise UnknownName(f"no test {name!r}; there are {', '.join(campaign.tests)}")
    kept = kept_hashes(campaign, name)
    test, signals = reduced_with_signals(campaign, name)
    if quantity not in test.values:
        raise UnknownName(f"test {name} has no {quantity!r}; it has {', '.join(test.values)}")
    drawn = _drawn(campaign, test, signals, quantity, samples) if samples else None
    symbol = plain(quantity)
    title = quantity if symbol == quantity else f"{symbol} ({quantity})"
    sections = [
        (f"{title} of test {name}", tuple(_value(campaign, test, quantity))),
        ("How", tuple(_how(test, quantity))),
        ("Uncertainty", tuple(_uncertainty(campaign, test, quantity, drawn))),
        ("Event", tuple(_event(test, quantity))),
        ("Steps on the readings, oldest first", tuple(_steps(campaign, test, quantity))),
        ("Raw files", tuple(_files(campaign, test, quantity, kept))),
        ("Remarks", tuple(test.notes)),
    ]
    return Explanation(name, quantity, tuple((h, lines) for h, lines in sections if lines))


def kept_hashes(campaign: Campaign, name: str) -> dict[str, str]:
    """SHA-256 of a test's logs when it was last reduced and kept in out/; empty where it never was."""
    if campaign.folder is None:
        return {}
    try:
        kept = json.loads((campaign.folder / "out" / "reduced" / f"{name}.json").read_text(encoding="utf-8"))
        return {log["name"]: log["sha256"] for log in kept["result"]["logs"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def file_state(path: Path, kept: str | None) -> str:
    """Key of `STATES`: whether a raw file is still the one with that SHA-256, or only its line ends differ."""
    if kept is None:
        return "first"
    try:
        data = path.read_bytes()
    except OSError:
        return "gone"
    if hashlib.sha256(data).hexdigest() == kept:
        return "same"
    unix = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    others = (unix, unix.replace(b"\n", b"\r\n"), unix.replace(b"\n", b"\r"))
    return "ends" if any(hashlib.sha256(o).hexdigest() == kept for o in others) else "other"


def _value(campaign: Campaign, test: TestResult, quantity: str) -> Iterable[str]:
    q = test.values[quantity]
    system = campaign.head.shown_units
    sign = ">= " if q.bound else ""
    number, text = _scale(q, system)
    u = "not known" if q.u is None else f"= {q.u * number:.3g} {text}".strip()
    yield f"{sign}{float(q.value or 0.0) * number:.6g} {text}".strip() + f", u {u}"
    if q.bound:
        yield f"a lower bound: outcome {test.outcome or 'not stated'}"
    if test.simulated:
        yield "SIMULATED log: an invented number, no evidence of anything"


def _scale(q: Quantity, system: str) -> tuple[float, str]:
    """Factor and unit of a quantity as people read it; strains in um/m."""
    return (1e6, "um/m") if q.name.startswith("eps_") else shown(1.0, q.unit, system)


def _how(test: TestResult, quantity: str) -> Iterable[str]:
    yield test.values[quantity].status
    if quantity.startswith("V_"):
        yield test.section_text


def _drawn(
    campaign: Campaign, test: TestResult, signals: Signals, quantity: str, samples: int
) -> tuple[Simulated, str] | None:
    """Draws of a result and how they were made: through its own computation where the chain has it."""
    from cracktie.reduction.shares import shares

    budget, value = test.budgets.get(quantity), test.values[quantity].value
    mark = next((m for m in test.marks if m.kind == "V_max" and m.row is not None), None)
    if budget is None or budget.u == 0.0 or value is None:
        return None
    if quantity in (*SHARES, "V_s_nom") and mark is not None and mark.row is not None:
        V_max, told = float(test.values["V_max"].value or 0.0), campaign.tests[test.test]
        made = shares(campaign, test.test, told, test.span, signals, mark.row, V_max, test.budgets["V_max"])
        if quantity in made.chain.results:
            return made.chain.drawn(quantity, samples), "through the whole computation"
    return budget.drawn(float(value), samples), "of these components, the result taken as linear in them"


def _uncertainty(
    campaign: Campaign, test: TestResult, quantity: str, drawn: tuple[Simulated, str] | None
) -> Iterable[str]:
    budget = test.budgets.get(quantity)
    if budget is None:
        yield "no budget is made for this quantity"
        return
    number, text = _scale(test.values[quantity], campaign.head.shown_units)
    if budget.dominant is not None:
        yield f"dominating: {budget.dominant.name}"
    yield from budget_lines(budget, number, text)
    dof = "" if budget.dof > 1e6 else f" with {budget.dof:.0f} effective degrees of freedom"
    first = f"u = {budget.u * number:.4g} {text}, +-{budget.expanded() * number:.4g} {text} at 95 %{dof}"
    yield first.replace("  ", " ")
    if drawn is not None:
        yield from _monte_carlo(*drawn, budget, float(test.values[quantity].value or 0.0), number, text)
    yield "instruments and readings of this test; the scatter between specimens is no part of it"


def budget_lines(budget: Budget, number: float, text: str) -> Iterable[str]:
    """Lines of a budget, those that hardly count together in one."""
    total, lines = budget.u**2, budget.lines(number, text)
    large = sum(c.u**2 >= SMALL * total for c in budget.by_name())
    yield from lines[:large]
    small = budget.by_name()[large:]
    if len(small) == 1:
        yield lines[-1]
    elif small:
        u = Budget(small).u * number
        yield f"{len(small)} smaller ones: {u:.3g} {text} together ({', '.join(c.name for c in small)})"


def _monte_carlo(drawn: Simulated, how: str, budget: Budget, value: float, number: float, text: str) -> Iterable[str]:
    low, high = drawn.low * number, drawn.high * number
    near, far = (end * number for end in drawn.shortest)
    yield (
        f"Monte Carlo, {drawn.draws} draws {how}, seed 1: {low:.6g} to {high:.6g} {text} at 95 % "
        f"(shortest {near:.6g} to {far:.6g}), mean {drawn.mean * number:.6g} {text}, u = {drawn.u * number:.4g} {text}"
    ).replace("  ", " ")
    U = budget.expanded()
    digits = drawn.validates(value, U, budget.u)
    first = f"first order {(value - U) * number:.6g} to {(value + U) * number:.6g} {text}"
    if digits:
        yield f"{first}: both ends agree within half a unit of digit {digits} of u (JCGM 101:2008, 8.1)"
        return
    allowed = tolerance(budget.u, 1) * number
    yield f"{first}: an end is off by over {allowed:.3g} {text} (JCGM 101:2008, 8.1): take the Monte Carlo interval"


def _mark_of(test: TestResult, quantity: str) -> Mark | None:
    name = quantity.removeprefix("delta_").removeprefix("w_cr_").removeprefix("v_cr_")
    after = name in ("85", "W_85") or name.startswith("mu_")
    kind = EVENTS.get(name, "85 % after the peak" if after else "V_max")
    return next((m for m in test.marks if m.kind == kind and m.status != "rejected"), None)


def _event(test: TestResult, quantity: str) -> Iterable[str]:
    mark = _mark_of(test, quantity)
    if mark is None:
        return
    yield f"{mark.kind} at {mark.time:.3f} s, row {mark.row} of the readings (from 0): {mark.method}, {mark.status}"
    yield f"confidence {mark.confidence:.2f}; {mark.evidence}"
    yield from (str(s) for s in test.trail if s.name == "event" and dict(s.arguments).get("event") == mark.kind)


def _steps(campaign: Campaign, test: TestResult, quantity: str) -> Iterable[str]:
    """Steps on the channels a quantity was really made from; those of the others of its kind in one line."""
    from cracktie.reduction.signals import layout_of

    start = max((s for s in READS if quantity.startswith(s)), key=len, default="")
    wanted = {*READS.get(start, ("load",)), "load"}
    layout = layout_of(campaign, campaign.tests[test.test], test.span)
    kind = {c.name: c.quantity for c in layout.values() if c.quantity in wanted}
    named = SHARES.get(quantity, ())
    used = {n for s in test.trail if s.name in named for n in str(dict(s.arguments).get("gauges", "")).split(", ")}
    others: dict[str, set[str]] = {}
    for step in test.trail:
        channel = dict(step.arguments).get("channel")
        if step.name == "profile" and not quantity.startswith(PROFILED):
            continue
        if step.name in ("event", *(s for s in SHARES if s not in named)):
            continue
        if named and isinstance(channel, str) and kind.get(channel, "load") != "load" and channel not in used:
            others.setdefault(kind[channel], set()).add(channel)
        elif channel is None or channel in kind:
            yield _words(step)
    for quantity_of, names in others.items():
        yield f"the same on {len(names)} other channels of {quantity_of}, which this number was not made from"


def _words(step: Step) -> str:
    """A step in words; a factor that only changes the unit says so."""
    told = dict(step.arguments)
    key = (told.get("factor"), told.get("unit"))
    change = CONVERSIONS.get(key) if step.name == "apply_factor" else None
    return f"unit(channel={told['channel']}): {change}, {step.rows} rows" if change else str(step)


def _files(campaign: Campaign, test: TestResult, quantity: str, kept: Mapping[str, str]) -> Iterable[str]:
    assert campaign.folder is not None
    mark = _mark_of(test, quantity)
    for i, log in enumerate(test.logs):
        path = campaign.folder / log.name
        state = STATES[file_state(path, kept.get(log.name))]
        yield f"{log.name}: {log.rows} rows, SHA-256 {log.sha256[:16]}..., {state}"
        yield from (f"   {line}" for line in log.report)
        step = next((s for s in test.trail if s.name == "read" and dict(s.arguments).get("log") == log.name), None)
        if step is not None and i == 0 and mark is not None and mark.row is not None:
            yield from (f"   {line}" for line in _raw_line(path, step, mark.row, log.rows))


def _raw_line(path: Path, step: Step, row: int, rows: int) -> Iterable[str]:
    """The line of a text log that holds a row, where every line of the block was kept."""
    arguments = dict(step.arguments)
    first, last = arguments.get("first_line"), arguments.get("last_line")
    if not isinstance(first, int) or not isinstance(last, int) or last - first + 1 != rows:
        yield f"row {row} of block {arguments.get('block')!r} (lines were left out, so its line is not named)"
        return
    line = first + row
    try:
        with path.open("rb") as stream:
            text = next((raw for n, raw in enumerate(stream, start=1) if n == line), b"")
    except OSError:
        return
    yield f"line {line}: {text.decode('utf-8', 'replace').strip()[:100]}"
