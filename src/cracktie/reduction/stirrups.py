"""V_s of a test: by gauges on the bars, by the stirrups a digitised crack crosses, or nominal; N, mm, MPa."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab import crack as lab
from cracktie.lab.budget import Budget, Component
from cracktie.member import Member
from cracktie.reduction.budgets import Found
from cracktie.reduction.crossing import ASSUMED_ANGLE, CriticalCrack, Crossed, crossed_stirrups, stirrup_ends
from cracktie.reduction.gauges import U_OTHER_LEG, accuracy, reading
from cracktie.reduction.signals import Signal, Signals

if TYPE_CHECKING:
    from cracktie.reduction.shares import Shares

U_YIELD = 0.03
"""Relative standard uncertainty of a yield strength that states none (no source)."""
U_MODULUS = 0.02
"""Relative standard uncertainty of a bar's modulus that states none (no source)."""
NEAR_END = 10.0
"""Diameters from the end of a stirrup within which a crossing may find it not anchored; our own choice."""
U_ALL_YIELD = 0.15
"""Relative standard uncertainty of 'every crossed stirrup yields' where no gauge says so: judgement, no source."""
STEP = 1e-4
"""Relative step of a numerical slope."""


def stirrup_share(
    made: Shares, campaign: Campaign, test: Test, span: str, signals: Signals, row: int, found: CriticalCrack,
    inputs: Member,
) -> Found | None:  # fmt: skip
    """V_s from bar gauges at the crack; else by stirrups that a digitised crack crosses; else nominal at 45 degrees."""
    specimen, v = campaign.specimen(test.specimen), inputs.values
    if v["A_sw"] == 0.0:
        return made.put("V_s_meas", 0.0, "N", Budget(()), "no stirrups in this span")
    crossed, stirrups = crossed_stirrups(specimen, span, found), specimen.spans[span].stirrups
    rise = math.sin(math.radians(v["alpha_w"]))
    gauges = _bar_gauges(signals, row, crossed)
    u_yield = inputs.u.get("f_yw") or U_YIELD * v["f_yw"]
    if gauges and crossed:
        return _by_gauges(made, campaign, specimen, stirrups, crossed, gauges, row, inputs, u_yield, found)
    if crossed and not found.assumed:
        V_s = len(crossed) * v["A_sw"] * v["f_yw"] * rise
        how = f"{len(crossed)} stirrups crossed by the digitised crack, all taken as yielding; no gauge on them"
        parts = [
            Component("whether they yield", U_ALL_YIELD * V_s, note="judgement"),
            Component("yield strength", u_yield / v["f_yw"] * V_s),
        ]
        force = v["A_sw"] * v["f_yw"] * rise
        more, told = _near_ends(specimen, crossed, force, v["A_sw"] / int(getattr(stirrups, "legs", 2)))
        return made.put("V_s_meas", V_s, "N", Budget((*parts, *more)), how + told)
    return _nominal(made, inputs, u_yield)


def _nominal(made: Shares, inputs: Member, u_yield: float) -> Found:
    """V_s of a truss with a crack at 45 degrees: A_sw f_yw (sin alpha + cos alpha) d/s, ACI 318-14, 22.5.10.5.4."""
    v = inputs.values
    alpha = math.radians(v["alpha_w"])
    one = v["A_sw"] * v["f_yw"] * math.sin(alpha)
    V_s = v["A_sw"] * v["f_yw"] * (math.sin(alpha) + math.cos(alpha)) * v["d"] / v["s_w"]
    turned = math.radians(5.0) / math.sin(math.radians(ASSUMED_ANGLE)) ** 2 * one * v["d"] / v["s_w"]
    parts = (
        Component("whether they yield", U_ALL_YIELD * V_s, note="judgement"),
        Component("yield strength", u_yield / v["f_yw"] * V_s),
        Component("angle of the crack", turned, note=f"assumed: {ASSUMED_ANGLE:g} deg, u = 5 deg, judgement"),
        Component("number of stirrups crossed", one / math.sqrt(3), "rectangular", note="one more or less"),
    )
    how = (
        f"NOMINAL, not measured: all stirrups over d/s at {ASSUMED_ANGLE:g} deg taken as yielding; no gauge at the "
        "crack and no digitised line; a flatter crack crosses more of them"
    )
    return made.put("V_s_nom", V_s, "N", Budget(parts), how)


def _near_ends(specimen: Specimen, crossed: Sequence[Crossed], force: float, leg: float) -> tuple[list[Component], str]:
    """What crossings close to an end add: there a stirrup carries between nothing and its force; `leg` area mm2."""
    low, high = stirrup_ends(specimen)
    reach = NEAR_END * math.sqrt(4.0 * leg / math.pi)
    near = [c for c in crossed if min(c.z - low, high - c.z) < reach]
    told = f"; counted between z = {low:.0f} and {high:.0f} mm"
    if not near:
        return [], told
    u = math.sqrt(len(near)) * abs(force) / 2.0 / math.sqrt(3.0)
    note = f"{len(near)} within {NEAR_END:g} diameters of an end, judgement"
    part = Component("stirrups crossed near their ends", u, "rectangular", note=note)
    return [part], f"{told}, {len(near)} of them near an end and counted whole: an upper bound there"


def _bar_gauges(signals: Signals, row: int, crossed: Sequence[Crossed]) -> dict[int, Signal]:
    best: dict[int, Signal] = {}
    for signal in signals.of("bar strain"):
        number = signal.channel.stirrup
        if number not in {c.number for c in crossed} or not math.isfinite(reading(signal, row)):
            continue
        assert number is not None
        if number not in best or reading(signal, row) > reading(best[number], row):
            best[number] = signal
    return best


def _by_gauges(
    made: Shares, campaign: Campaign, specimen: Specimen, stirrups: Any, crossed: Sequence[Crossed],
    gauges: dict[int, Signal], row: int, inputs: Member, u_yield: float, found: CriticalCrack,
) -> Found | None:  # fmt: skip
    v = inputs.values
    bar = campaign.materials.bars[stirrups.material]
    curve = _curve(bar, v["f_yw"])
    try:
        stress = {n: float(lab.bar_stress(reading(s, row), **curve)) for n, s in gauges.items()}
    except CracktieError as error:
        made.notes.append(f"no V_s: {error}")
        return None
    mean = float(np.mean(list(stress.values())))
    force = v["A_sw"] * math.sin(math.radians(v["alpha_w"]))
    used = [stress.get(c.number, mean) for c in crossed]
    V_s = force * sum(used)
    missing = len(crossed) - len(stress)
    at_yield = sum(s >= 0.98 * v["f_yw"] for s in stress.values())
    away = [(v["f_yw"] - min(s, v["f_yw"])) * force for s in stress.values()]
    parts = [
        Component("bars below yield read beside the crack", math.hypot(*away) / math.sqrt(12.0), "rectangular"),
        Component("yield strength", u_yield / v["f_yw"] * V_s),
        Component("stirrups without gauges", U_OTHER_LEG * force * mean * missing, note=f"{missing}, judgement"),
    ]
    share = len(crossed) / len(stress) * force  # stirrups without gauges follow those with one
    for cause, change, u in (
        ("modulus of the bars", {"E_s": curve["E_s"] * (1 + STEP)}, _u_modulus(bar)),
        ("gauge factor and amplifier", {}, accuracy(list(gauges.values()), row)),
    ):
        scale = 1.0 if change else 1.0 + STEP
        moved = [float(lab.bar_stress(scale * reading(s, row), **{**curve, **change})) for s in gauges.values()]
        parts.append(Component(cause, abs(sum(moved) - sum(stress.values())) / STEP * u * share))
    more, told = _near_ends(specimen, crossed, force * mean, v["A_sw"] / stirrups.legs)
    parts += more
    if found.assumed:
        one = force * mean / math.sqrt(3)
        parts.append(
            Component("number of stirrups crossed", one, "rectangular", note="assumed crack: one more or less")
        )
    line = "digitised crack" if not found.assumed else f"{found.angle:g} deg line"
    shape = "rounded" if curve["rounded"] else "plateau"
    how = (
        f"gauges on {len(stress)} of {len(crossed)} stirrups crossed by the {line}, {at_yield} at yield; "
        f"stress from the bar's own {shape} curve{told}"
    )
    made.steps.append(("V_s_meas", {"crossed": len(crossed), "gauged": len(stress), "row": row}))
    return made.put("V_s_meas", V_s, "N", Budget(tuple(p for p in parts if p.u > 0.0)), how)


def _u_modulus(bar: Any) -> float:
    """Relative standard uncertainty of a bar's modulus: as measured, else `U_MODULUS`."""
    E_s = None if bar.measured is None else bar.measured.E_s
    return float(E_s.u / E_s) if E_s is not None and E_s.u else U_MODULUS


def _curve(bar: Any, f_y: float) -> dict[str, Any]:
    """The bar's own curve: measured values before nominal ones."""
    from cracktie.member import E_STEEL

    def value(name: str) -> float | None:
        entries = (e for e in (bar.measured, bar.nominal) if e is not None)
        return next((float(getattr(e, name)) for e in entries if getattr(e, name) is not None), None)

    modulus = value("E_s") or E_STEEL
    return {
        "f_y": f_y,
        "E_s": modulus,
        "rounded": bar.yielding == "rounded",
        "f_u": value("f_u"),
        "A_gt": value("A_gt"),
    }
