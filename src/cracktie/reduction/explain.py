"""From one number of a test back to the rows of its raw files, in words."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cracktie.campaign.schema import Campaign
from cracktie.errors import UnknownName
from cracktie.lab.trail import Step
from cracktie.reduced import Mark, TestResult
from cracktie.results import Quantity, versioned
from cracktie.symbols import plain
from cracktie.units import shown

READS = {
    "P_max": ("load",), "V_": ("load",), "delta_": ("displacement",), "K_": ("load", "displacement"),
    "W_": ("load", "displacement"), "mu_": ("load", "displacement"), "eps_f": ("FRP strain",),
    "V_f_strain": ("load", "FRP strain"), "V_s_meas": ("load", "bar strain"),
    "V_s_nom": (),
    "V_c_eq": ("load", "FRP strain", "bar strain"), "V_cs_eq": ("load", "FRP strain"),
    "gamma_": ("diagonal displacement",), "delta_shear": ("diagonal displacement",), "theta": (),
    "w_cr": ("crack opening", "diagonal displacement"), "v_cr": ("crack sliding", "diagonal displacement"),
}  # fmt: skip
"""Beginning of a quantity's name -> measured quantities it is made from; the longest beginning counts."""
EVENTS = {"V_cr": "first flexural crack", "V_dia": "first diagonal crack", "V_deb": "first debonding"}
"""Quantities that belong to an event; all others belong to V_max or to the level in their name."""
SHARES = ("V_f_strain", "V_s_meas")
"""Steps that carry the name of the share they make."""
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


def explain(campaign: Campaign, name: str, quantity: str, *, samples: int = 0) -> Explanation:
    """Reduce a test anew and tell where one of its numbers comes from; raises `UnknownName` with what there is.

    `samples` draws of the components give a Monte Carlo interval beside the first-order one; 0 for none.
    """
    from cracktie.reduction import reduce_test

    if name not in campaign.tests:
        raise UnknownName(f"no test {name!r}; there are {', '.join(campaign.tests)}")
    kept = kept_hashes(campaign, name)
    test = reduce_test(campaign, name)
    if quantity not in test.values:
        raise UnknownName(f"test {name} has no {quantity!r}; it has {', '.join(test.values)}")
    channels = _channels(campaign, test, quantity)
    sections = [
        (f"{plain(quantity)} ({quantity}) of test {name}", tuple(_value(campaign, test, quantity))),
        ("How", tuple(_how(test, quantity))),
        ("Uncertainty", tuple(_uncertainty(campaign, test, quantity, samples))),
        ("Event", tuple(_event(test, quantity))),
        ("Steps on the readings, oldest first", tuple(str(s) for s in test.trail if _concerns(s, channels, quantity))),
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
    yield f"{sign}{_shown(q, system)}" + (
        f", u = {_number(q.u, q.unit, system)}" if q.u is not None else ", u not known"
    )
    if q.bound:
        yield f"a lower bound: outcome {test.outcome or 'not stated'}"
    if test.simulated:
        yield "SIMULATED log: an invented number, no evidence of anything"


def _shown(q: Quantity, system: str) -> str:
    return _number(q.value, q.unit, system)


def _number(value: float | None, unit: str, system: str) -> str:
    number, text = shown(float(value or 0.0), unit, system)
    return f"{number:.6g} {text}".strip()


def _how(test: TestResult, quantity: str) -> Iterable[str]:
    yield test.values[quantity].status
    if quantity.startswith("V_"):
        yield test.section_text


def _uncertainty(campaign: Campaign, test: TestResult, quantity: str, samples: int) -> Iterable[str]:
    budget = test.budgets.get(quantity)
    if budget is None:
        yield "no budget is made for this quantity"
        return
    number, text = shown(1.0, test.values[quantity].unit, campaign.head.shown_units)
    if budget.dominant is not None:
        yield f"dominating: {budget.dominant.name}"
    yield from budget.lines(number, text)
    dof = "" if budget.dof > 1e6 else f" with {budget.dof:.0f} effective degrees of freedom"
    yield f"u = {budget.u * number:.4g} {text}, +-{budget.expanded() * number:.4g} {text} at 95 %{dof}".replace(
        "  ", " "
    )
    if samples and budget.u > 0.0:
        drawn = budget.drawn(float(test.values[quantity].value or 0.0), samples)
        low, high = drawn.low * number, drawn.high * number
        yield (
            f"Monte Carlo, {drawn.draws} draws of these components, seed 1: {low:.6g} to {high:.6g} {text} at 95 %, "
            f"u = {drawn.u * number:.4g} {text}; their shapes are kept, the result stays linear in them"
        ).replace("  ", " ")
    yield "instruments and readings of this test; the scatter between specimens is no part of it"


def _mark_of(test: TestResult, quantity: str) -> Mark | None:
    name = quantity.removeprefix("delta_").removeprefix("w_cr_").removeprefix("v_cr_")
    kind = EVENTS.get(name, "85 % after the peak" if name in ("85", "W_85") else "V_max")
    return next((m for m in test.marks if m.kind == kind and m.status != "rejected"), None)


def _event(test: TestResult, quantity: str) -> Iterable[str]:
    mark = _mark_of(test, quantity)
    if mark is None:
        return
    yield f"{mark.kind} at {mark.time:.3f} s, row {mark.row} of the readings (from 0): {mark.method}, {mark.status}"
    yield f"confidence {mark.confidence:.2f}; {mark.evidence}"
    yield from (str(s) for s in test.trail if s.name == "event" and dict(s.arguments).get("event") == mark.kind)


def _channels(campaign: Campaign, test: TestResult, quantity: str) -> set[str]:
    """Names of the channels a quantity is made from."""
    from cracktie.reduction.signals import layout_of

    start = max((s for s in READS if quantity.startswith(s)), key=len, default="")
    wanted = READS.get(start, ("load",))
    found = layout_of(campaign, campaign.tests[test.test], test.span)
    return {c.name for c in found.values() if c.quantity in (*wanted, "load")}


def _concerns(step: Step, channels: set[str], quantity: str) -> bool:
    channel = dict(step.arguments).get("channel")
    if step.name in SHARES:
        return quantity in (step.name, "eps_fe") or (quantity in ("V_c_eq", "V_cs_eq"))
    return step.name != "event" and (channel is None or channel in channels)


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
