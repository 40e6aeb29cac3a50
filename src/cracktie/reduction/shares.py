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
    crossed_strips,
)
from cracktie.reduction.gauges import U_OTHER_LEG, accuracy, reading
from cracktie.reduction.signals import Signal, Signals
from cracktie.reduction.stirrups import stirrup_share

U_PLACE = 0.15
"""Relative standard uncertainty of the strain at the crack from gauges beside it: judgement, no source (10 to 30 %)."""
U_STIFFNESS = 0.03
"""Relative standard uncertainty of E_f t_f where the material states none (no source)."""
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
    V_s = stirrup_share(made, campaign, test, span, signals, row, found, inputs)
    _rest(made, inputs, V, u_V, V_f, V_s)
    return made


def _legs(signals: Signals, row: int, legs: Sequence[Crossed]) -> dict[tuple[int, str], Signal]:
    """The gauge with the largest strain on each crossed leg: its force is largest where the crack crosses it."""
    best: dict[tuple[int, str], Signal] = {}
    for signal in signals.of("FRP strain"):
        key = (signal.channel.strip or 0, str(signal.channel.face or "front"))
        if key not in {(leg.number, leg.face) for leg in legs} or not math.isfinite(reading(signal, row)):
            continue
        if key not in best or reading(signal, row) > reading(best[key], row):
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
    components = [*_common(total, inputs, [g for _, g in gauged], row), *_noise(gauged, inputs)]
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
    scale = Component("gauge factor and amplifier", accuracy([g for _, g in gauged], row) * abs(mean))
    made.put("eps_fe", mean, "-", Budget((spread, scale)), text)
    return made.put("V_f_strain", total, "N", Budget(tuple(components)), how)


Legs = tuple[list[tuple[Crossed, Signal]], int, list[tuple[Crossed, float]]]


def _strips(signals: Signals, row: int, legs: Sequence[Crossed], inputs: Member) -> tuple[float | None, Legs | None]:
    """Sum of the legs' vertical forces, N, with the gauged legs, the number of others, and strains by leg."""
    best = _legs(signals, row, legs)
    if not best:
        return None, None
    mean = float(np.mean([reading(s, row) for s in best.values()]))
    total, missing = 0.0, 0
    gauged: list[tuple[Crossed, Signal]] = []
    strains: list[tuple[Crossed, float]] = []
    for leg in legs:
        own = best.get((leg.number, leg.face))
        other = best.get((leg.number, "back" if leg.face == "front" else "front"))
        if own is not None:
            gauged.append((leg, own))
            strains.append((leg, reading(own, row)))
        missing += own is None
        used = own or other
        total += _leg_force(mean if used is None else reading(used, row), inputs)
    return total, (gauged, missing, strains)


def _leg_force(strain: float, inputs: Member) -> float:
    v = inputs.values
    ply = v["n"] * v["t_f"]
    force = lab.strip_force(strain, width=v["w_f"], thickness=ply, modulus=v["E_f"], beta=v["beta"])
    return float(force)


def _common(total: float, inputs: Member, gauges: Sequence[Signal], row: int) -> list[Component]:
    """Components every leg shares, so that they do not average out."""
    stated = inputs.u.get("E_f")
    stiffness = stated / inputs.values["E_f"] if stated else U_STIFFNESS
    return [
        Component("strain at the crack", U_PLACE * abs(total), note="gauges beside the crack, judgement"),
        Component("fibre stiffness", stiffness * abs(total), note="E_f" if stated else "judgement, none is stated"),
        Component("gauge factor and amplifier", accuracy(gauges, row) * abs(total)),
    ]


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
        c, strain = signal.channel, reading(signal, row)
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
    components = [*_common(total, inputs, used, row), Component("angle of the crack", abs(relative * total))]
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
