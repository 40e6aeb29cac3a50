"""Tables of what was measured beside the shears: shares from gauges, what their uncertainty is made of, stiffness."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from cracktie.report.blocks import Column, Table
from cracktie.report.findings import count
from cracktie.report.numbers import significant, with_uncertainty
from cracktie.symbols import plain
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.reduced import Reduced, TestResult
    from cracktie.results import Quantity

SHARES = (
    (("theta",), "crack angle"), (("eps_fe",), "mean fibre strain on the crack"), (("V_f_strain",), "V_f by strain"),
    (("V_f_gauge",), "the same by largest gauges"),
    (("V_s_meas", "V_s_nom"), "V_s"), (("V_c_eq",), "V_c"), (("V_cs_eq",), "V_c + V_s"),
)  # fmt: skip
"""Quantities of one column, the first that a test has, and its head."""
BUDGETS = ("V_cr", "V_dia", "V_deb", "V_max", "V_f_strain", "V_s_meas", "V_s_nom", "V_c_eq", "V_cs_eq")
STIFFNESS = (
    ("K_uncracked", "uncracked"), ("K_cracked", "cracked"), ("K_dia", "after the diagonal crack"),
    ("K_deb", "after debonding"), ("K_unload", "last unloading"),
)  # fmt: skip
DERIVED = (
    ("W_V_max", "work to V_max"), ("W_85", "work to 85 %"), ("delta_85", "deflection at 85 %"),
    ("mu_delta", "ductility"), ("gamma_V_max", "shear strain at V_max"), ("delta_shear_V_max", "shear deflection"),
)  # fmt: skip
_MICRO = ("eps_fe",)
_MILLI = ("gamma_V_max",)


def measured_tables(reduced: Reduced, system: str) -> Iterable[Table]:
    """Shares from gauges, dominating causes of the uncertainties, derived quantities; only what some test has."""
    tests = list(reduced.tests.values())
    stiffness = _derived("Stiffness, load over deflection", STIFFNESS, tests, system)
    rest = _derived("Work, ductility and shear of the panel", DERIVED, tests, system)
    for table in (_shares(tests, system), _causes(tests), stiffness, rest):
        if table.rows:
            yield table


def _shares(tests: Sequence[TestResult], system: str) -> Table:
    having = [t for t in tests if any(n in t.values for n in ("V_f_strain", "V_s_meas", "V_s_nom"))]
    columns = [(names, head) for names, head in SHARES if any(_first(t, names) for t in having)]
    rows = [
        (t.test, *(_cell(_first(t, names), system) for names, _ in columns), _way_of_stirrups(t)) for t in having
    ]  # fmt: skip
    heads = [Column(head, _unit(names[0], having, names, system)) for names, head in columns]
    notes = (
        "± is the standard uncertainty of this beam's instruments and readings; it holds no scatter between beams.",
        "V_f by strain is the middle of the bounds that gauges and bond set; the largest gauges bound it from below.",
        "V_c is what is left of V_max: it takes the errors of all others.",
    )
    return Table(
        "Shares of the shear at V_max from gauges",
        (Column("test", "", "left"), *heads, Column("V_s from", "", "left", prose=True)), tuple(rows), notes,
    )  # fmt: skip


def _way_of_stirrups(t: TestResult) -> str:
    found = _first(t, ("V_s_meas", "V_s_nom"))
    return "–" if found is None else found.status.partition(";")[0]


def _causes(tests: Sequence[TestResult]) -> Table:
    """One row a quantity: relative uncertainty over the tests, and what dominates it in how many of them."""
    rows = []
    for name in BUDGETS:
        having = [(t.values[name], t.budgets[name]) for t in tests if name in t.values and name in t.budgets]
        relative = sorted(b.u / abs(q.value) for q, b in having if q.value)
        causes: dict[str, list[float]] = {}
        for _, budget in having:
            if budget.dominant is not None:
                causes.setdefault(budget.dominant.name, []).append(budget.dominant.u**2 / budget.u**2)
        if relative and causes:
            told = (f"{c} ({count(len(s), 'test')}, {_range(s)} of u²)"
                    for c, s in sorted(causes.items(), key=lambda item: -len(item[1])))  # fmt: skip
            rows.append((plain(name), str(len(having)), _range(relative), "; ".join(told)))
    columns = (
        Column("quantity", "", "left", prose=True), Column("tests"), Column("u relative to the value"),
        Column("the largest cause is", "", "left", prose=True),
    )  # fmt: skip
    note = "`cracktie explain` prints every cause of a number; reduced.json beside this report holds them all."
    return Table("What the uncertainties are made of", columns, tuple(rows), (note,))


def _range(shares: Sequence[float]) -> str:
    low, high = (f"{100 * s:.2g}" if s < 0.1 else f"{100 * s:.0f}" for s in (min(shares), max(shares)))
    return f"{low} %" if low == high else f"{low} to {high} %"


def _derived(caption: str, wanted: Sequence[tuple[str, str]], tests: Sequence[TestResult], system: str) -> Table:
    names = [(n, head) for n, head in wanted if any(n in t.values for t in tests)]
    having = [t for t in tests if any(n in t.values for n, _ in names)]
    columns = [Column(head, _unit(n, having, (n,), system)) for n, head in names]
    rows = tuple((t.test, *(_cell(t.values.get(n), system) for n, _ in names)) for t in having)
    ductile = any(n == "mu_delta" for n, _ in names)
    told = (t.values["mu_delta"].status for t in having if ductile and "mu_delta" in t.values)
    notes = tuple(dict.fromkeys(f"Ductility: {re.sub(r' [(][^)]*[)]', '', text)}." for text in told))
    return Table(caption, (Column("test", "", "left"), *columns), rows, notes)


def _first(t: TestResult, names: Sequence[str]) -> Quantity | None:
    return next((t.values[n] for n in names if n in t.values), None)


def _unit(name: str, tests: Sequence[TestResult], names: Sequence[str], system: str) -> str:
    if name in _MICRO:
        return "µm/m"
    if name in _MILLI:
        return "mm/m"
    found = next((q for t in tests if (q := _first(t, names)) is not None), None)
    text = "" if found is None else _scaled(found, system)[1]
    return {"deg": "°", "-": ""}.get(text, text)


def _scaled(q: Quantity, system: str) -> tuple[float, str]:
    factor = 1e6 if q.name in _MICRO else 1e3 if q.name in _MILLI else None
    if factor is not None:
        return factor, ""
    if q.unit in ("N/mm", "N mm") and system == "si":
        return (1e-3, "kN/mm") if q.unit == "N/mm" else (1e-6, "kN·m")
    scale, unit = shown(1.0, q.unit, system)
    return scale, unit


def _cell(q: Quantity | None, system: str) -> str:
    if q is None or q.value is None:
        return "–"
    factor = _scaled(q, system)[0]
    if not q.u:
        return significant(q.value * factor, 3)
    value, u = with_uncertainty(q.value * factor, q.u * factor)
    return f"{value} ± {u}"
