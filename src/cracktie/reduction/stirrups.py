"""V_s of a test: by gauges on the bars, by the stirrups a digitised crack crosses, or nominal; N, mm, MPa.

Each way is a function of named errors, put into the chain that budgets and draws are made from.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab import crack as lab
from cracktie.lab.chain import Chain, Errors, Source
from cracktie.lab.crack_strain import mean_distance
from cracktie.member import Member
from cracktie.reduction.budgets import Found
from cracktie.reduction.crack_legs import causes, held
from cracktie.reduction.crossing import ASSUMED_ANGLE, CriticalCrack, Crossed, crossed_stirrups, stirrup_ends
from cracktie.reduction.fibres import U_LINE, U_NO_LINE, U_OTHER_FACE
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
BAR_BOND = {"deformed": 2.5, "plain": 0.3}
"""Largest bond stress of a bar over sqrt(f_c), MPa, good bond: fib Model Code 2010, 6.1.1, from memory."""
U_BAR_BOND = 0.3
"""Relative standard uncertainty of that bond stress (MC2010 says 30 % for its curve, from memory)."""


def stirrup_share(
    made: Shares, campaign: Campaign, test: Test, span: str, signals: Signals, row: int, found: CriticalCrack,
    inputs: Member,
) -> Found | None:  # fmt: skip
    """V_s from bar gauges at the crack; else by stirrups that a digitised crack crosses; else nominal at 45 degrees."""
    specimen, v = campaign.specimen(test.specimen), inputs.values
    if v["A_sw"] == 0.0:
        return made.put("V_s_meas", lambda x: 0.0, "N", (), "no stirrups in this span")
    crossed, stirrups = crossed_stirrups(specimen, span, found), specimen.spans[span].stirrups
    assert stirrups is not None
    bar = campaign.materials.bars[stirrups.material]
    coupons = campaign.coupons.get(f"bars.{stirrups.material}")
    curves = tuple(coupons.curves.values()) if coupons is not None else ()
    steel = _Steel.of(made.chain, inputs, bar, stirrups.material, curves)
    force = v["A_sw"] * math.sin(math.radians(v["alpha_w"]))
    ends = _Ends.of(made, specimen, crossed, v["A_sw"] / stirrups.legs)
    gauges = _bar_gauges(signals, row, crossed)
    if gauges and crossed:
        return _by_gauges(made, crossed, gauges, row, inputs, steel, ends, found, force)
    if found.assumed:
        return _nominal(made, inputs, steel)
    yields = made.source("whether stirrups yield", "whether they yield", U_ALL_YIELD, note="judgement")
    none, said = 0.0 if crossed else 1.0 / math.sqrt(3), "a stirrup just beyond the ends of the line"
    more = made.source("one stirrup", "number of stirrups crossed", none, "rectangular", note=said)

    def by_count(x: Errors) -> Any:
        one = force * steel.f_y(x)
        return one * (len(crossed) * (1.0 + x.get(yields, 0.0)) + ends.count(x) + np.maximum(x.get(more, 0.0), 0.0))

    how = f"{len(crossed)} stirrups crossed by the digitised crack, all taken as yielding; no gauge on them{ends.told}"
    return made.put("V_s_meas", by_count, "N", (yields, more, ends.id, steel.proof), how)


@dataclass(frozen=True)
class _Steel:
    """The bar's own curve as a function of errors: ids of the sources of f_y and E_s, and what the curve needs."""

    proof: str
    modulus: str
    curve: dict[str, Any]
    bond: str
    diameter: float
    stress_of_bond: float

    @classmethod
    def of(cls, chain: Chain, inputs: Member, bar: Any, material: str, curves: Sequence[tuple[Any, Any]]) -> _Steel:
        v = inputs.values
        f_y = v["f_yw"]
        stated = inputs.u.get("f_yw")
        note = "" if stated else "judgement, none is stated"
        proof = chain.source(
            Source(f"f_y {material}", "yield strength", stated / f_y if stated else U_YIELD, note=note)
        )
        modulus = chain.source(Source(f"E_s {material}", "modulus of the bars", _u_modulus(bar)))
        bond = chain.source(Source(f"bond {material}", "bond of the bars", U_BAR_BOND, note="MC2010, from memory"))
        area = bar.area if bar.area is not None else bar.diameter.area if bar.diameter is not None else v["A_sw"] / 2
        tau = BAR_BOND[bar.kind] * math.sqrt(v["f_c"])
        return cls(proof, modulus, _curve(bar, f_y, curves), bond, math.sqrt(4.0 * float(area) / math.pi), tau)

    @property
    def words(self) -> str:
        """Which curve."""
        if self.curve["curves"]:
            return f"curve as its coupons show it ({len(self.curve['curves'])})"
        return f"{'rounded' if self.curve['rounded'] else 'plateau'} curve"

    def f_y(self, x: Errors) -> Any:
        """Yield strength, MPa."""
        return self.curve["f_y"] * (1.0 + x.get(self.proof, 0.0))

    def stress(self, x: Errors, strain: Any, largest: Any) -> Any:
        """Stress at a gauge, after unloading as well."""
        E_s = self.curve["E_s"] * (1.0 + x.get(self.modulus, 0.0))
        return lab.bar_stress(strain, **{**self.curve, "f_y": self.f_y(x), "E_s": E_s}, largest=largest)

    def at_crack(self, x: Errors, stress: Any, away: Any) -> Any:
        """Largest stress at a crack `away` mm from a gauge: its stress and what bond adds, no more than it bears."""
        most = 4.0 * self.stress_of_bond * np.exp(x.get(self.bond, 0.0)) / self.diameter * away
        limit = self.f_y(x)
        if self.curve["curves"]:
            limit = max(float(np.max(s)) for _, s in self.curve["curves"]) * limit / self.curve["f_y"]
        elif self.curve["rounded"]:
            limit = float(self.curve["f_u"])
        return np.maximum(stress, np.minimum(stress + most, limit))


@dataclass(frozen=True)
class _Ends:
    """Crossings close to an end of a stirrup, where it carries between nothing and its force."""

    id: str
    told: str

    @classmethod
    def of(cls, made: Shares, specimen: Specimen, crossed: Sequence[Crossed], leg: float) -> _Ends:
        """`leg` is the area of one leg, mm2."""
        low, high = stirrup_ends(specimen)
        reach = NEAR_END * math.sqrt(4.0 * leg / math.pi)
        near = sum(min(c.z - low, high - c.z) < reach for c in crossed)
        u = math.sqrt(near) / 2.0 / math.sqrt(3.0)
        note = f"{near} within {NEAR_END:g} diameters of an end, judgement"
        id = made.source("ends of stirrups", "stirrups crossed near their ends", u, "rectangular", note=note)
        told = f"; counted between z = {low:.0f} and {high:.0f} mm"
        if near:
            told += f", {near} of them near an end and counted whole: an upper bound there"
        return cls(id, told)

    def count(self, x: Errors) -> Any:
        """Stirrups more or less."""
        return x.get(self.id, 0.0)


def _nominal(made: Shares, inputs: Member, steel: _Steel) -> Found:
    """V_s of a truss with a crack at 45 degrees: A_sw f_yw (sin alpha + cos alpha) d/s, ACI 318-14, 22.5.10.5.4.

    A flatter crack crosses d (cot theta - 1) / s stirrups more.
    """
    v = inputs.values
    alpha = math.radians(v["alpha_w"])
    per_bar, number = v["A_sw"] * math.sin(alpha), v["d"] / v["s_w"]
    yields = made.source("whether stirrups yield", "whether they yield", U_ALL_YIELD, note="judgement")
    more = made.source(
        "one stirrup", "number of stirrups crossed", 1.0 / math.sqrt(3), "rectangular", note="one more or less"
    )

    def function(x: Errors) -> Any:
        whole = (1.0 + 1.0 / math.tan(alpha)) * number if v["alpha_w"] != 90.0 else number
        turned = 1.0 / np.tan(math.radians(ASSUMED_ANGLE) + x.get(made.theta, 0.0)) - 1.0
        count = whole * (1.0 + x.get(yields, 0.0)) + turned * number + x.get(more, 0.0)
        return per_bar * steel.f_y(x) * count

    how = (
        f"NOMINAL, not measured: all stirrups over d/s at {ASSUMED_ANGLE:g} deg taken as yielding; no gauge at the "
        "crack and no digitised line; a flatter crack crosses more of them"
    )
    return made.put("V_s_nom", function, "N", (yields, more, made.theta, steel.proof), how)


def _bar_gauges(signals: Signals, row: int, crossed: Sequence[Crossed]) -> dict[int, list[Signal]]:
    """Gauges that read, by the number of their crossed stirrup."""
    found: dict[int, list[Signal]] = {}
    for signal in signals.of("bar strain"):
        number = signal.channel.stirrup
        if number is not None and number in {c.number for c in crossed} and math.isfinite(reading(signal, row)):
            found.setdefault(number, []).append(signal)
    return found


def _by_gauges(
    made: Shares, crossed: Sequence[Crossed], gauges: dict[int, list[Signal]], row: int, inputs: Member, steel: _Steel,
    ends: _Ends, found: CriticalCrack, force: float,
) -> Found | None:  # fmt: skip
    at = {c.number: c for c in crossed}
    every = [s for signals in gauges.values() for s in signals]
    # one error for all of them: gauges of one lot and logger do not average it out
    gain = made.source("bar gauges", "gauge factor and amplifier", accuracy(every, row))
    bars = {n: _bar(made, steel, at[n], signals, row, inputs, found, gain) for n, signals in gauges.items()}
    try:
        stress = np.array([float(np.ravel(bar({})[0])[0]) for bar in bars.values()])
    except CracktieError as error:
        made.notes.append(f"no V_s: {error}")
        return None
    missing = len(crossed) - len(bars)
    f_y, counted = steel.curve["f_y"], len(crossed) / len(bars)
    at_yield = int((np.array([float(np.ravel(bar({})[1])[0]) for bar in bars.values()]) >= 0.98 * f_y).sum())
    u_missing, dof = U_OTHER_LEG * float(stress.mean()) * missing, math.inf
    said = f"{missing}, judgement"
    if missing and len(bars) >= 3:
        s, dof = float(stress.std(ddof=1)), float(len(bars) - 1)
        u_missing, said = s * math.sqrt(missing * counted), f"{missing}; scatter of {len(bars)} gauged stirrups"
    others = made.source("stirrups without gauges", "stirrups without gauges", u_missing, dof=dof, note=said,
                         kind="A" if math.isfinite(dof) else "B")  # fmt: skip
    more = made.source("one stirrup", "number of stirrups crossed", 1.0 / math.sqrt(3) if found.assumed else 0.0,
                       "rectangular", note="assumed crack: one more or less")  # fmt: skip

    def function(x: Errors) -> Any:
        total = sum(bar(x)[0] for bar in bars.values())
        mean = total / len(bars)
        return force * (counted * total + x.get(others, 0.0) + mean * (ends.count(x) + x.get(more, 0.0)))

    line = "digitised crack" if not found.assumed else f"{found.angle:g} deg line"
    how = (
        f"gauges on {len(bars)} of {len(crossed)} stirrups crossed by the {line}, {at_yield} at yield; stress from the "
        f"bar's own {steel.words}, at the crack between that of the gauge "
        f"and what bond adds on the way, middle{ends.told}"
    )
    names = ", ".join(s.channel.name for signals in gauges.values() for s in signals)
    made.steps.append(("V_s_meas", {"crossed": len(crossed), "gauged": len(bars), "gauges": names, "row": row}))
    made.used |= {s.channel.name for signals in gauges.values() for s in signals}
    return made.put("V_s_meas", function, "N", (*made.of_bars, others, more, ends.id), how)


def _bar(
    made: Shares, steel: _Steel, at: Crossed, signals: Sequence[Signal], row: int, inputs: Member, found: CriticalCrack,
    gain: str,
) -> Callable[[Errors], tuple[Any, Any]]:  # fmt: skip
    """(stress at the crack, largest stress at a gauge) of one stirrup: between the gauges' and what bond adds."""
    between = made.source(
        "bar bond", "bars between gauge and crack", 0.5 / math.sqrt(3.0), "rectangular",
        note="bonded or not between gauge and crack; alike on all bars",
    )  # fmt: skip
    u = U_NO_LINE if found.assumed else U_LINE if "front" in found.lines else U_OTHER_FACE
    place = made.source("crack on the bars", "place of the crack", u, note="judgement")
    rise = math.sin(math.radians(inputs.values["alpha_w"]))
    blur = 2.0 * math.sqrt(3.0) * min(u, U_OTHER_FACE)  # as for strips: no gauge lies on the crack for certain
    read = []
    for s in signals:
        z = at.z if s.channel.z is None else float(s.channel.z)
        own, common = causes([s], row)
        zero = made.source(f"zero {s.channel.name}", "zero and noise of the gauges", float(own[0]), kind="A")
        off = {zero: 1.0}
        off |= {made.source(f"{id} of bars", c.name, 1.0, note=c.note): float(c.u[0]) for id, c in common.items()}
        top = max(float(held(s, row).max()), s.reached)
        length = np.asarray(np.hypot(blur, s.channel.gauge_length or 0.0))
        read.append((reading(s, row), top, (z - at.z) / rise, length, off))
    made.of_bars += [gain, between, place, steel.proof, steel.modulus, steel.bond, *(id for r in read for id in r[-1])]

    def function(x: Errors) -> tuple[Any, Any]:
        low: Any = None
        high: Any = None
        for strain, top, along, length, off in read:
            scale, zero = 1.0 + x.get(gain, 0.0), sum(u * x.get(id, 0.0) for id, u in off.items())
            stress = steel.stress(x, strain * scale + zero, top * scale + zero)
            most = steel.at_crack(x, stress, mean_distance(along - x.get(place, 0.0), length))
            low = stress if low is None else np.maximum(low, stress)
            high = most if high is None else np.minimum(high, most)
        assert low is not None
        share = np.clip(0.5 + x.get(between, 0.0), 0.0, 1.0)
        return low + share * (np.maximum(high, low) - low), low

    return function


def _u_modulus(bar: Any) -> float:
    """Relative standard uncertainty of a bar's modulus: as measured, else `U_MODULUS`."""
    E_s = None if bar.measured is None else bar.measured.E_s
    return float(E_s.u / E_s) if E_s is not None and E_s.u else U_MODULUS


def _curve(bar: Any, f_y: float, curves: Sequence[tuple[Any, Any]]) -> dict[str, Any]:
    """The bar's own curve: those of its coupons, else measured values before nominal ones."""
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
        "curves": curves,
        "of_curves": (f_y, modulus),
    }
