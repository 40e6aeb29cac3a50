"""What `cracktie reduce` prints: results of every test, shares from gauges, remarks. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from cracktie.console import count, force, table
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.reduced import Reduced, TestResult
    from cracktie.results import Quantity

FEW = 4
"""Remarks of one test that are printed; the others are counted."""
PRESSING = (
    "left out, its clock", "left out, it runs", "not zeroed", "not used", "stands under load", "outside the record",
    "before the record ends", "where it was placed", "the readings place it", "is negative", "out of the event log",
    "lower bound", "name one (`logger", "no V_f by strains",
)  # fmt: skip
"""Words of remarks that come first: something is missing, doubted or to be done."""


def show_reduced(reduced: Reduced, system: str) -> None:
    """Shears by test, shares at V_max where gauges tell them, remarks, and where the rest stands."""
    unit, length = (shown(1.0, n, system)[1] for n in ("N", "mm"))
    columns = ["test", "span", *(f"{n} [{unit}]" for n in ("V_dia", "V_deb", "V_max")), "u", f"at V_max [{length}]",
               "outcome"]  # fmt: skip
    if reduced.tests:
        print(table(columns, [_results(t, system) for t in reduced.tests.values()], left=2))
    shares = [row for t in reduced.tests.values() if (row := _shares(t, system)) is not None]
    if shares:
        columns = ["test", "crack [deg]", *(f"{n} [{unit}]" for n in ("V_f by strain", "V_s", "V_c")), "V_s from"]
        print(f"\nshares at V_max, +- standard uncertainty\n{table(columns, shares)}")
    for line in _remarks(reduced):
        print(line)
    if reduced.simulated:
        print("SIMULATED logs: invented numbers, no evidence of anything")


def _results(t: TestResult, system: str) -> list[str]:
    V, delta = t.values.get("V_max"), t.value("delta_V_max")
    u = "-" if V is None or V.u is None else f"{shown(V.u, 'N', system)[0]:.2f}"
    shears = [force(t.value(n), system) for n in ("V_dia", "V_deb")]
    peak = force(t.value("V_max"), system, bound=t.bound)
    place = "-" if delta is None else f"{shown(delta, 'mm', system)[0]:.2f}"
    return [t.test, t.span, *shears, peak, u, place, t.outcome or "-"]


def _shares(t: TestResult, system: str) -> list[str] | None:
    V_f, V_c = t.values.get("V_f_strain"), t.values.get("V_c_eq")
    V_s = t.values.get("V_s_meas") or t.values.get("V_s_nom")
    if V_f is None and V_s is None:
        return None
    theta = t.values.get("theta")
    angle = "-" if theta is None or theta.value is None else f"{theta.value:.0f} +- {theta.u or 0.0:.0f}"
    way = "-" if V_s is None else _way(V_s.status)
    return [t.test, angle, *(_with_u(q, system) for q in (V_f, V_s, V_c)), way]


def _way(status: str) -> str:
    """What V_s rests on, in a word or two: gauges, nominal, none there, or stirrups that a line crosses."""
    first = status.split(" ")[0].strip(",;:").lower()
    return "none there" if first == "no" else "taken as yielding" if first.isdigit() else first


def _with_u(q: Quantity | None, system: str) -> str:
    if q is None or q.value is None:
        return "-"
    return force(q.value, system) if q.u is None else f"{force(q.value, system)} +- {force(q.u, system)}"


def _later(note: str) -> bool:
    """Whether a remark may wait: it does not say that something is missing, doubted or to be done."""
    return not (note.startswith("reduction.yaml") or any(word in note for word in PRESSING))


def _remarks(reduced: Reduced) -> Iterator[str]:
    warned = {p.key for p in reduced.warnings}  # told with the problems
    yield from (f"{name}: not reduced, {why}" for name, why in reduced.skipped.items() if name not in warned)
    for t in reduced.tests.values():
        yield from (f"{t.test}: {note}" for note in sorted(t.notes, key=_later)[:FEW])
        if len(t.notes) > FEW:
            yield f"{t.test}: {count(len(t.notes) - FEW, 'more remark')}"
    if any(t.budgets for t in reduced.tests.values()):
        yield "every cause of an uncertainty, every step and all remarks: cracktie explain DIR TEST QUANTITY"
