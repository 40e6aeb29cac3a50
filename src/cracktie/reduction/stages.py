"""Stiffness by stage, unloadings, twist, residual deflection, work and ductility of one test, each by a named
definition."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab import events as lab_events
from cracktie.lab.budget import Budget, Component
from cracktie.lab.derived import Line, last_pass, stiffness, unloadings, work
from cracktie.reduction.budgets import Found
from cracktie.reduction.deflection import Deflection

RANGES = {
    "K_uncracked": ("before the first flexural crack", "P_cr", 0.3, 0.6),
    "K_cracked": ("cracked", "P_max", 0.4, 0.6),
}
"""Stiffness of a stage: regression of load over deflection between two shares of a load; ranges are common practice."""
BETWEEN = {
    "K_dia": ("after the first diagonal crack", "first diagonal crack", ("first debonding", "V_max")),
    "K_deb": ("after the first debonding", "first debonding", ("V_max",)),
}
"""Stiffness between an event and the next of those named."""
INSIDE = (0.2, 0.8)
"""Shares of the load between two events that count, so that neither end does; own choice."""
LEAST = 0.05
"""Least load between two events for a stiffness, as a share of P_max; own choice."""


def stage_values(
    P: Any,
    deflection: Deflection,
    top: int,
    events: Mapping[str, int],
    *,
    P_cr: float | None,
    u_cell: float,
    slopes: tuple[Any, Any, int] | None = None,
) -> Iterator[Found]:
    """Values of one test: `top` row of V_max, `events` kind -> row, `u_cell` relative standard uncertainty of the
    cell, `slopes` load and deflection as slopes take them with every how many rows one is independent."""
    yield from _stiffness(P, deflection, top, events, P_cr, u_cell, slopes or (P, deflection.values, 1))
    yield from _unloading(P, deflection, top, u_cell)
    yield from _twist(deflection, top)
    yield from _residual(P, deflection, top)


def _stiffness(
    P: Any,
    deflection: Deflection,
    top: int,
    events: Mapping[str, int],
    P_cr: float | None,
    u_cell: float,
    slopes: tuple[Any, Any, int],
) -> Iterator[Found]:
    ranges: list[tuple[str, float, float, str]] = []
    begun: dict[str, int] = {}
    for name, (stage, of, low, high) in RANGES.items():
        load = float(P[top]) if of == "P_max" else P_cr
        if load is None or (of == "P_max" and P_cr is not None and low * load < 1.1 * P_cr):
            continue
        told = f"{stage}: regression of P over delta from {low:g} to {high:g} {of}"
        if of == "P_cr":
            begun[name] = last_pass(P[: top + 1], low=low * load, reached=load)
            told += ", on the pass that went on to P_cr (none before it, which seat the beam)"
        ranges.append((name, low * load, high * load, told))
    for name, (stage, start, ends) in BETWEEN.items():
        end = next((k for k in ends if k in events and events[k] > events.get(start, top)), None)
        if start not in events or end is None:
            continue
        first, last = float(P[events[start]]), float(P[events[end]])
        if not last - first >= LEAST * float(P[top]):
            continue
        low, high = (first + share * (last - first) for share in INSIDE)
        told = f"{stage}: regression of P over delta in the middle {INSIDE[1] - INSIDE[0]:.0%} of the load up to {end}"
        ranges.append((name, low, high, told))
    load, delta, every = slopes
    for name, low, high, how in ranges:
        rows = slice(begun.get(name, 0), top + 1, every)
        try:
            line = stiffness(delta[rows], load[rows], low=low, high=high)
        except ModelInputError:
            continue
        if line.halves is not None:
            how += ", lower and upper half {:.1f} and {:.1f} kN/mm".format(*(slope / 1e3 for slope in line.halves))
        yield _slope(name, line, f"{how}, {line.points} readings", deflection, top, u_cell)


def _slope(name: str, line: Line, how: str, deflection: Deflection, top: int, u_cell: float) -> Found:
    parts = [
        Component("scatter of the regression", line.u, kind="A", dof=line.points - 2),
        Component("rows along the curve", _curve(line), "rectangular", kind="A", note="against its two halves"),
        Component("load cell", u_cell * abs(line.slope), "rectangular", note="stated accuracy of reading"),
        *_scale(deflection, top, line.slope),
    ]
    return Found(name, line.slope, "N/mm", Budget(tuple(p for p in parts if p.u > 0.0)), how)


def _curve(line: Line) -> float:
    """What one slope of a curve owes to where rows lie along it, rectangular: it less the mean slope of both halves."""
    return 0.0 if line.halves is None else abs(line.slope - sum(line.halves) / 2.0) / math.sqrt(3.0)


def _scale(deflection: Deflection, top: int, value: float) -> list[Component]:
    """What an error of the deflection's scale adds to a value proportional to it: its relative u at V_max."""
    whole = float(deflection.values[top])
    return [Component("deflection", abs(value) * deflection.u(top) / abs(whole))] if whole else []


def _unloading(P: Any, deflection: Deflection, top: int, u_cell: float) -> Iterator[Found]:
    found = unloadings(deflection.values[: top + 1], P[: top + 1])
    if not found:
        return
    all_of = "; ".join(
        f"{u.load / 1e3:.0f} to {u.least / 1e3:.0f} kN: {u.line.slope / 1e3:.2f} kN/mm, {u.residual:.2f} mm left"
        for u in found
    )
    last = found[-1].line
    how = f"last of {len(found)} unloading(s) before V_max, regression over its middle 60 %, {last.points} readings"
    yield _slope("K_unload", last, f"{how} ({all_of})", deflection, top, u_cell)


def _twist(deflection: Deflection, top: int) -> Iterator[Found]:
    """Difference of the two faces over their mean at V_max."""
    if len(deflection.faces) < 2:
        return
    front, back = (float(s.values[top]) for s in deflection.faces[:2])
    mean = 0.5 * (front + back)
    if not (math.isfinite(mean) and mean > 0.0):
        return
    share = abs(front - back) / mean
    u = 2.0 * deflection.u(top) / mean  # of a difference: twice that of the mean of two alike
    told = "; more than 10 %: the beam twists" if share > 0.10 else ""
    names = " less ".join(s.channel.name for s in deflection.faces[:2])
    budget = Budget((Component("transducers", u),))
    yield Found("twist_V_max", share, "-", budget, f"|{names}| over their mean at V_max{told}")


def _residual(P: Any, deflection: Deflection, top: int) -> Iterator[Found]:
    """Deflection that is left once the load is off, at most 5 % of its largest, at the end of the record."""
    off = np.flatnonzero((P[top:] <= 0.05 * float(P[top])) & np.isfinite(deflection.values[top:])) + top
    if not off.size:
        return
    row, back = int(off[-1]), float(np.nanmax(deflection.values))
    value = float(deflection.values[row])
    u = Budget((Component("transducers and zero", deflection.u(row)),))
    how = f"at the end, load {P[row] / 1e3:.1f} kN; {100 * value / back:.0f} % of the largest deflection"
    yield Found("delta_res", value, "mm", u, how)


def work_values(
    time: Any, P: Any, deflection: Deflection, top: int, *, u_cell: float, u_load: float, noise: float
) -> Iterator[Found]:
    """Work to V_max and to 85 % behind it, and ductilities; `u_load` (N) is the standard uncertainty of the load's
    zero, `noise` (N) that of one reading."""
    event = lab_events.after_peak(time, P, deflection=deflection.values)
    try:
        found = work(deflection.values, P, behind=len(P) if event is None else event.row)
    except ModelInputError:
        return
    delta = found.deflection_peak
    flat = deflection.values[np.flatnonzero(float(P[top]) - 3.0 * noise <= P)]
    u_row = float(np.nanmax(flat) - np.nanmin(flat)) / math.sqrt(12.0)  # a flat top has many rows

    def of_work(energy: float, at: float, row: int, u_place: float = 0.0) -> Budget:
        parts = (
            Component("row of the event", float(P[top]) * u_place, "rectangular", kind="A"),
            Component("load cell", u_cell * energy, "rectangular", note="stated accuracy of reading"),
            Component("zero of the load cell", u_load * abs(at), kind="A"),
            Component("deflection", energy * deflection.u(row) / abs(at) if at else 0.0),
        )
        return Budget(tuple(p for p in parts if p.u > 0.0))

    net = "area under P over delta, trapezoids on raw rows, net of what unloadings gave back"
    yield Found("W_V_max", found.energy_peak, "N mm", of_work(found.energy_peak, delta, top, u_row), f"{net}, to V_max")
    last, energy = found.deflection_after, found.energy_after
    if last is None or energy is None or event is None:
        return
    yield Found("W_85", energy, "N mm", of_work(energy, last, event.row), f"{net}, to 85 % of P_max after the peak")
    u_last, u_peak = deflection.u(event.row), math.hypot(deflection.u(top), u_row)
    definitions = (
        ("mu_delta", found.deflection_yield, "of the secant through 75 % of P_max at P_max (Park type)"),
        (
            "mu_energy",
            found.deflection_equal,
            "of yield of a bilinear curve with the same work, 2 (delta - W_85/P_max)",
        ),
        ("mu_peak", delta, "at V_max"),
    )
    for name, base, words in definitions:
        if base is None or not base > 0.0:
            continue
        value = last / base
        after = Component("deflection after the peak", value * u_last / last)
        u = (
            after,
            Component("deflection below", value * u_peak / base, note="errors common to both are not taken off"),
        )
        how = f"delta at 85 % of P_max after the peak over that {words} ({base:.2f} mm); misleads for shear failures"
        yield Found(name, value, "-", Budget(u), how)
