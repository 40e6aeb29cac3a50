"""Shares of the shear at V_max by what was measured: fibres, stirrups, and concrete by equilibrium; N, mm, MPa."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab import crack as lab
from cracktie.lab.budget import Budget, Component
from cracktie.member import Member, member
from cracktie.reduction.budgets import Found
from cracktie.reduction.crossing import (
    CriticalCrack,
    Crossed,
    assumed_crack,
    critical_crack,
    crossed_stirrups,
    crossed_strips,
)
from cracktie.reduction.signals import Signal, Signals
from cracktie.units import parse

U_PLACE = 0.15
"""Relative standard uncertainty of the strain at the crack from gauges beside it: judgement, no source (10 to 30 %)."""
U_GAUGE = 0.01
"""Relative standard uncertainty of gauge factor and amplifier where the channel states none (no source)."""
U_STIFFNESS = 0.03
"""Relative standard uncertainty of E_f t_f where the material states none (no source)."""
U_OTHER_LEG = 0.25
"""Relative standard uncertainty of a leg without a gauge, taken like its neighbours: judgement, no source."""
U_YIELD = 0.03
"""Relative standard uncertainty of a yield strength that states none (no source)."""
U_ALL_YIELD = 0.15
"""Relative standard uncertainty of 'every crossed stirrup yields' where no gauge says so: judgement, no source."""
NEAR = 60.0
"""mm of height within which a gauge on a continuous sheet counts as lying on the crack; our own choice."""


@dataclass
class Shares:
    """Everything the gauges say at V_max; `profile` rows are (distance along the crack, strain) of the gauged legs."""

    found: list[Found] = field(default_factory=list)
    profile: list[tuple[float, float]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    steps: list[tuple[str, dict[str, Any]]] = field(default_factory=list)

    def put(self, name: str, value: float, unit: str, budget: Budget | None, how: str) -> Found:
        """Keep one value and the step it came from."""
        made = Found(name, float(value), unit, budget, how)
        self.found.append(made)
        return made


def shares(
    campaign: Campaign, name: str, test: Test, span: str, signals: Signals, row: int, V: float, u_V: float
) -> Shares:
    """V_f by measured strains, V_s in the campaign's order of preference and V_c by equilibrium, at one row.

    `V` and `u_V` are the total shear there and its standard uncertainty. What is missing becomes a note.
    """
    made = Shares()
    specimen = campaign.specimen(test.specimen)
    if specimen.kind != "beam" or specimen.section is None or not specimen.spans:
        return made
    found = critical_crack(campaign, name, test, span)
    if not found.assumed:
        u = Budget((Component("digitising, faces, judgement", found.u_angle),))
        made.put("theta", found.angle, "deg", u, found.how)
    try:
        inputs = member(campaign, test.specimen, span, choice="measured", test=test, bare=campaign.bare(name))
    except CracktieError as error:
        made.notes.append(f"no shares: {error}")
        return made
    V_f = _fibres(made, campaign, test, span, signals, row, found, inputs) if inputs.strengthened else None
    V_s = _stirrups(made, campaign, test, span, signals, row, found, inputs)
    _rest(made, inputs, V, u_V, V_f, V_s)
    return made


def _reading(signal: Signal, row: int) -> float:
    return float(signal.values[row])


def _legs(signals: Signals, row: int, legs: Sequence[Crossed]) -> dict[tuple[int, str], Signal]:
    """The gauge with the largest strain on each crossed leg: its force is largest where the crack crosses it."""
    best: dict[tuple[int, str], Signal] = {}
    for signal in signals.of("FRP strain"):
        key = (signal.channel.strip or 0, str(signal.channel.face or "front"))
        if key not in {(leg.number, leg.face) for leg in legs} or not math.isfinite(_reading(signal, row)):
            continue
        if key not in best or _reading(signal, row) > _reading(best[key], row):
            best[key] = signal
    return best


def _fibres(
    made: Shares, campaign: Campaign, test: Test, span: str, signals: Signals, row: int, found: CriticalCrack,
    inputs: Member,
) -> Found | None:  # fmt: skip
    if inputs.values["layout"] == "continuous":
        return _sheet(made, signals, row, found, inputs)
    specimen = campaign.specimen(test.specimen)
    total, parts = _strips(signals, row, crossed_strips(specimen, span, found), inputs)
    if total is None or parts is None:
        made.notes.append("no V_f by strains: no gauge reads at V_max on a strip that the crack crosses")
        return None
    gauged, missing, strains = parts
    made.profile = sorted((leg.along, strain) for leg, strain in strains)
    values = [strain for _, strain in strains]
    lines = "the digitised line" if not found.assumed else f"a {found.angle:g} deg line, none is digitised"
    how = (
        f"sum of n t w E eps sin(beta) over {len(gauged) + missing} legs on {lines}, largest gauge of each leg; "
        f"{missing} legs without a gauge taken like the other leg of their strip or the mean"
    )
    components = [*_common(total, inputs, [g for _, g in gauged]), *_noise(gauged, inputs)]
    if missing:
        share = total * missing / (len(gauged) + missing)
        components.append(Component("legs without gauges", U_OTHER_LEG * share, note=f"{missing} legs, judgement"))
    if found.assumed:
        moved = [_strips(signals, row, crossed_strips(specimen, span, assumed_crack(specimen, span, a)), inputs)[0]
                 for a in (found.angle - 5.0, found.angle + 5.0)]  # fmt: skip
        reach = [m for m in moved if m is not None]
        half = (max(reach) - min(reach)) / 2 if len(reach) == 2 else 0.25 * total
        # strips count whole, so the turned lines may cross the same ones; the place is a guess as well
        half = max(half, 2.0 * _leg_force(float(np.mean(values)), inputs))
        note = f"assumed: {found.angle:g} +- 5 deg, at least one strip more or less"
        components.append(Component("angle of the crack", half / math.sqrt(3), "rectangular", note=note))
    made.steps.append(("V_f_strain", {"legs": len(gauged) + missing, "gauged": len(gauged), "row": row}))
    mean = float(np.mean(values))
    text = f"mean over {len(values)} gauged legs on the crack; mean/largest = {mean / max(values):.2f}"
    spread = Component("strain at the crack", U_PLACE * abs(mean), note="gauges beside the crack, judgement")
    scale = Component("gauge factor and amplifier", _accuracy([g for _, g in gauged]) * abs(mean))
    made.put("eps_fe", mean, "-", Budget((spread, scale)), text)
    return made.put("V_f_strain", total, "N", Budget(tuple(components)), how)


Legs = tuple[list[tuple[Crossed, Signal]], int, list[tuple[Crossed, float]]]


def _strips(signals: Signals, row: int, legs: Sequence[Crossed], inputs: Member) -> tuple[float | None, Legs | None]:
    """Sum of the legs' vertical forces, N, with the gauged legs, the number of others, and strains by leg."""
    best = _legs(signals, row, legs)
    if not best:
        return None, None
    mean = float(np.mean([_reading(s, row) for s in best.values()]))
    total, missing = 0.0, 0
    gauged: list[tuple[Crossed, Signal]] = []
    strains: list[tuple[Crossed, float]] = []
    for leg in legs:
        own = best.get((leg.number, leg.face))
        other = best.get((leg.number, "back" if leg.face == "front" else "front"))
        if own is not None:
            gauged.append((leg, own))
            strains.append((leg, _reading(own, row)))
        missing += own is None
        used = own or other
        total += _leg_force(mean if used is None else _reading(used, row), inputs)
    return total, (gauged, missing, strains)


def _leg_force(strain: float, inputs: Member) -> float:
    v = inputs.values
    ply = v["n"] * v["t_f"]
    force = lab.strip_force(strain, width=v["w_f"], thickness=ply, modulus=v["E_f"], beta=v["beta"])
    return float(force)


def _common(total: float, inputs: Member, gauges: Sequence[Signal]) -> list[Component]:
    """Components every leg shares, so that they do not average out."""
    stated = inputs.u.get("E_f")
    stiffness = stated / inputs.values["E_f"] if stated else U_STIFFNESS
    return [
        Component("strain at the crack", U_PLACE * abs(total), note="gauges beside the crack, judgement"),
        Component("fibre stiffness", stiffness * abs(total), note="E_f" if stated else "judgement, none is stated"),
        Component("gauge factor and amplifier", _accuracy(gauges) * abs(total)),
    ]


def _accuracy(gauges: Sequence[Signal]) -> float:
    """Relative standard uncertainty the channels state in % (rectangular); `U_GAUGE` where they state none."""
    texts = [(g.channel.uncertainty or "").strip() for g in gauges]
    stated = [float(parse(t, "-")) / math.sqrt(3) for t in texts if t.endswith("%")]
    return max(stated, default=U_GAUGE)


def _noise(gauged: Sequence[tuple[Crossed, Signal]], inputs: Member) -> list[Component]:
    one = _leg_force(1.0, inputs)
    u = math.hypot(*(one * math.hypot(s.u_zero, s.noise) for _, s in gauged))
    return [Component("zero and noise of the gauges", u, kind="A")] if u > 0.0 else []


def _sheet(made: Shares, signals: Signals, row: int, found: CriticalCrack, inputs: Member) -> Found | None:
    """Continuous sheet: profile over the height on each gauged face, zero at both ends of the crack on the sheet."""
    v = inputs.values
    low, high = v["h"] - v["d_frp"], v["h"] - v["z_t"]
    by_face: dict[str, dict[float, float]] = {}
    used: list[Signal] = []
    for signal in signals.of("FRP strain"):
        c, strain = signal.channel, _reading(signal, row)
        if c.x is None or c.z is None or not math.isfinite(strain):
            continue
        at = lab.height_at(*found.line(str(c.face or "front")), float(c.x))
        if at is not None and abs(at - float(c.z)) <= NEAR and low < float(c.z) < high:
            face = by_face.setdefault(str(c.face or "front"), {})
            face[float(c.z)] = max(strain, face.get(float(c.z), -math.inf))
            used.append(signal)
    forces = []
    for profile in by_face.values():
        z = [low, *sorted(profile), high]
        eps = [0.0, *(profile[k] for k in sorted(profile)), 0.0]
        ply = v["n"] * v["t_f"]
        forces.append(lab.sheet_force(z, eps, thickness=ply, modulus=v["E_f"], theta=found.angle, beta=v["beta"]))
    if not forces:
        made.notes.append(f"no V_f by strains: no gauge lies within {NEAR:g} mm of the crack on the sheet")
        return None
    total = sum(forces) * 2 / len(forces)
    theta, beta = math.radians(found.angle), math.radians(v["beta"])
    relative = math.radians(found.u_angle) / math.sin(theta) ** 2 / (1 / math.tan(theta) + 1 / math.tan(beta))
    components = [*_common(total, inputs, used), Component("angle of the crack", abs(relative * total))]
    if v["scheme"] != "side":  # the sheet goes on around the soffit: strain there is between 0 and that of the gauge
        ends = [force * _end_share(profile, low, high) for force, profile in zip(forces, by_face.values(), strict=True)]
        more = sum(ends) * 2 / len(ends) / math.sqrt(3)
        note = "taken to fall to 0 at the lower edge; at most as large as at the lowest gauge"
        components.append(Component("profile below the lowest gauge", more, "rectangular", note=note))
    if len(forces) == 1:
        components.append(Component("legs without gauges", U_OTHER_LEG * total / 2, note="one face, judgement"))
    made.profile = sorted(kv for profile in by_face.values() for kv in profile.items())
    how = f"strain profile over the height on {len(forces)} face(s), zero at the ends; {found.how}"
    return made.put("V_f_strain", total, "N", Budget(tuple(components)), how)


def _end_share(profile: Mapping[float, float], low: float, high: float) -> float:
    """Area of the triangle below the lowest gauge over that of the whole profile."""
    z = np.array([low, *sorted(profile), high])
    eps = np.array([0.0, *(profile[k] for k in sorted(profile)), 0.0])
    pieces = 0.5 * (eps[1:] + eps[:-1]) * np.diff(z)
    whole = float(pieces.sum())
    return float(pieces[0]) / whole if whole else 0.0


def _stirrups(
    made: Shares, campaign: Campaign, test: Test, span: str, signals: Signals, row: int, found: CriticalCrack,
    inputs: Member,
) -> Found | None:  # fmt: skip
    """V_s from bar gauges at the crack; else by stirrups that a digitised crack crosses; else None (undivided)."""
    specimen, v = campaign.specimen(test.specimen), inputs.values
    if v["A_sw"] == 0.0:
        return made.put("V_s_meas", 0.0, "N", Budget(()), "no stirrups in this span")
    crossed = crossed_stirrups(specimen, span, found)
    rise = math.sin(math.radians(v["alpha_w"]))
    gauges = _bar_gauges(signals, row, crossed)
    u_yield = inputs.u.get("f_yw") or U_YIELD * v["f_yw"]
    if gauges and crossed:
        return _by_gauges(made, campaign, specimen.spans[span].stirrups, crossed, gauges, row, inputs, u_yield, found)
    if crossed and not found.assumed:
        V_s = len(crossed) * v["A_sw"] * v["f_yw"] * rise
        how = f"{len(crossed)} stirrups crossed by the digitised crack, all taken as yielding; no gauge on them"
        parts = (
            Component("whether they yield", U_ALL_YIELD * V_s, note="judgement"),
            Component("yield strength", u_yield / v["f_yw"] * V_s),
        )
        return made.put("V_s_meas", V_s, "N", Budget(parts), how)
    made.notes.append("no V_s: neither gauges at the crack nor a digitised line; V_c + V_s stays undivided")
    return None


def _bar_gauges(signals: Signals, row: int, crossed: Sequence[Crossed]) -> dict[int, Signal]:
    best: dict[int, Signal] = {}
    for signal in signals.of("bar strain"):
        number = signal.channel.stirrup
        if number not in {c.number for c in crossed} or not math.isfinite(_reading(signal, row)):
            continue
        assert number is not None
        if number not in best or _reading(signal, row) > _reading(best[number], row):
            best[number] = signal
    return best


def _by_gauges(
    made: Shares, campaign: Campaign, stirrups: Any, crossed: Sequence[Crossed], gauges: dict[int, Signal], row: int,
    inputs: Member, u_yield: float, found: CriticalCrack,
) -> Found | None:  # fmt: skip
    v = inputs.values
    bar = campaign.materials.bars[stirrups.material]
    curve = _curve(bar, v["f_yw"])
    try:
        stress = {n: float(lab.bar_stress(_reading(s, row), **curve)) for n, s in gauges.items()}
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
    if found.assumed:
        one = force * mean / math.sqrt(3)
        parts.append(
            Component("number of stirrups crossed", one, "rectangular", note="assumed crack: one more or less")
        )
    line = "digitised crack" if not found.assumed else f"{found.angle:g} deg line"
    shape = "rounded" if curve["rounded"] else "plateau"
    how = (
        f"gauges on {len(stress)} of {len(crossed)} stirrups crossed by the {line}, {at_yield} at yield; "
        f"stress from the bar's own {shape} curve"
    )
    made.steps.append(("V_s_meas", {"crossed": len(crossed), "gauged": len(stress), "row": row}))
    return made.put("V_s_meas", V_s, "N", Budget(tuple(p for p in parts if p.u > 0.0)), how)


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


def _rest(made: Shares, inputs: Member, V: float, u_V: float, V_f: Found | None, V_s: Found | None) -> None:
    """What is left for the concrete; all errors of the others end here."""
    if inputs.strengthened and V_f is None:
        return
    taken = [part for part in (V_f, V_s) if part is not None]
    parts = [Component("V_max", u_V)]
    parts += [Component(p.name, p.budget.u) for p in taken if p.budget is not None and p.budget.u > 0.0]
    value = V - sum(p.value for p in taken)
    name = "V_c_eq" if V_s is not None else "V_cs_eq"
    how = "V_max less " + (" and ".join(p.name for p in taken) or "nothing")
    found = made.put(name, value, "N", Budget(tuple(parts)), how + "; holds the errors of all of them")
    if found.value < 0.0:
        made.notes.append(f"{name} is negative: gauges or crack are not what they are taken for")
