"""V_s of a test: by gauges on the bars, by the stirrups a digitised crack crosses, or nominal; N, mm, MPa.

Each way is a function of named errors, put into the chain that budgets and draws are made from.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.campaign.geometry import numbered, span_limits, stirrup_positions
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
from cracktie.reduction.fibres import U_LINE, U_OTHER_FACE
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
A_WHOLE_ONE = "a whole number, by the place of the crack: one less to one more, triangular"
"""Why the number of stirrups that an unseen crack crosses is uncertain whatever its angle."""
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
    stirrups = specimen.spans[span].stirrups
    assert stirrups is not None
    crossed = _within_reach(specimen, span) if found.assumed else crossed_stirrups(specimen, span, found)
    bar = campaign.materials.bars[stirrups.material]
    coupons = campaign.coupons.get(f"bars.{stirrups.material}")
    curves = tuple(coupons.curves.values()) if coupons is not None else ()
    steel = _Steel.of(made.chain, inputs, bar, stirrups.material, curves)
    force = v["A_sw"] * math.sin(math.radians(v["alpha_w"]))
    support, load = span_limits(specimen, span)
    angles = lab.Cotangent.between(abs(load - support), v["h"])
    gauges = _bar_gauges(signals, row, crossed)
    if found.assumed and not gauges:
        return _nominal(made, inputs, steel, angles)
    ends = _Ends.of(made, specimen, [] if found.assumed else crossed, v["A_sw"] / stirrups.legs)
    if gauges:
        return _by_gauges(made, specimen, crossed, gauges, row, inputs, steel, ends, found, angles, force)
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
        u = math.sqrt(near) / 2.0  # whole or not at all, as likely as not
        note = f"{near} within {NEAR_END:g} diameters of an end, each whole or not at all, judgement"
        id = made.source("ends of stirrups", "stirrups crossed near their ends", u, note=note)
        told = f"; counted between z = {low:.0f} and {high:.0f} mm"
        if near:
            told += f", {near} of them near an end and counted whole: an upper bound there"
        return cls(id, told)

    def count(self, x: Errors) -> Any:
        """Stirrups more or less."""
        return x.get(self.id, 0.0)


def _nominal(made: Shares, inputs: Member, steel: _Steel, angles: lab.Cotangent) -> Found:
    """V_s of a truss with a crack at 45 degrees: A_sw f_yw (sin alpha + cos alpha) d/s, ACI 318-14, 22.5.10.5.4.

    A flatter crack crosses d (cot theta - 1) / s stirrups more; cot theta is off 1 by its root mean square.
    """
    v = inputs.values
    alpha = math.radians(v["alpha_w"])
    per_bar, number = v["A_sw"] * math.sin(alpha), v["d"] / v["s_w"]
    yields = made.source("whether stirrups yield", "whether they yield", U_ALL_YIELD, note="judgement")
    more = made.source("one stirrup", "number of stirrups crossed", lab.U_WHOLE, note=A_WHOLE_ONE)
    flatter = math.hypot(angles.deviation, angles.mean - 1.0)

    def function(x: Errors) -> Any:
        whole = (1.0 + 1.0 / math.tan(alpha)) * number if v["alpha_w"] != 90.0 else number
        count = whole * (1.0 + x.get(yields, 0.0)) - flatter * _turned(made, x) * number + x.get(more, 0.0)
        return per_bar * steel.f_y(x) * np.maximum(count, 0.0)

    how = (
        f"NOMINAL, not measured: all stirrups over d/s at {ASSUMED_ANGLE:g} deg taken as yielding; no gauge at the "
        "crack and no digitised line; a flatter crack crosses more of them"
    )
    return made.put("V_s_nom", function, "N", (yields, more, made.theta, steel.proof), how)


def _turned(made: Shares, x: Errors) -> Any:
    """Error of the crack's angle in standard uncertainties: steeper above 0, one error with that of the fibres."""
    return x[made.theta] / made.chain.sources[made.theta].u if made.theta in x else 0.0


def _within_reach(specimen: Specimen, span: str) -> list[Crossed]:
    """Stirrups that a straight crack from soffit to top can cross between their ends, in order from the left."""
    support, load = span_limits(specimen, span)
    low, high = stirrup_ends(specimen)
    section = specimen.section
    assert section is not None
    steepest = math.tan(math.radians(lab.DIAGONAL[1]))
    return [
        Crossed(number, "front", x, 0.5 * (low + high), 0.0)
        for number, x in numbered(stirrup_positions(specimen, span)).items()
        if abs(x - support) * steepest > low and abs(load - x) * steepest > float(section.h) - high
        and min(support, load) < x < max(support, load)
    ]  # fmt: skip


@dataclass(frozen=True)
class _Counted:
    """How often each gauged stirrup counts, as a function of errors, shaped (gauged, ...); stirrups in all, without
    gauges, and words."""

    weights: Callable[[Errors], Any]
    number: float
    missing: int
    uses: tuple[str, ...]
    told: str

    @classmethod
    def on_line(cls, crossed: int, gauged: int) -> _Counted:
        """All that the digitised line crosses; those without a gauge like the mean of the others."""
        weights = np.full((gauged, 1), crossed / gauged)
        told = f"gauges on {gauged} of {crossed} stirrups crossed by the digitised crack"
        return cls(lambda x: weights, float(crossed), crossed - gauged, (), told)

    @classmethod
    def unseen(
        cls, made: Shares, reach: Sequence[Crossed], stress: dict[int, float], inputs: Member, angles: lab.Cotangent,
        height: float,
    ) -> _Counted:  # fmt: skip
        """As many neighbours as a crack of unknown angle and place crosses, those that carry most."""
        v = inputs.values
        whole = made.source("one stirrup", "number of stirrups crossed", lab.U_WHOLE, note=A_WHOLE_ONE)
        table = lab.neighbours([stress.get(c.number) for c in reach])
        at = [i for i, c in enumerate(reach) if c.number in stress]

        def count(x: Errors) -> Any:
            cot = angles.mean - angles.deviation * _turned(made, x)
            n = angles.count(cot, x.get(whole, 0.0), height=height, spacing=v["s_w"], alpha=v["alpha_w"])
            return np.minimum(np.atleast_1d(n), len(reach))

        def weights(x: Errors) -> Any:
            n = count(x)
            return np.stack([np.interp(n, np.arange(len(table)), table[:, i]) for i in at])

        number = float(count({})[0])
        missing = max(math.ceil(number) - int(np.count_nonzero(table[math.ceil(number)])), 0)
        flat, steep = lab.DIAGONAL
        told = (
            f"gauges on {len(at)} stirrups; no line is digitised: a crack at {flat:g} to {steep:g} deg crosses about "
            f"{number:.1f}, taken as those neighbours that carry most"
        )
        return cls(weights, number, missing, (whole, made.theta), told)


def _bar_gauges(signals: Signals, row: int, crossed: Sequence[Crossed]) -> dict[int, list[Signal]]:
    """Gauges that read, by the number of their crossed stirrup."""
    found: dict[int, list[Signal]] = {}
    for signal in signals.of("bar strain"):
        number = signal.channel.stirrup
        if number is not None and number in {c.number for c in crossed} and math.isfinite(reading(signal, row)):
            found.setdefault(number, []).append(signal)
    return found


def _by_gauges(
    made: Shares, specimen: Specimen, crossed: Sequence[Crossed], gauges: dict[int, list[Signal]], row: int,
    inputs: Member, steel: _Steel, ends: _Ends, found: CriticalCrack, angles: lab.Cotangent, force: float,
) -> Found | None:  # fmt: skip
    at = {c.number: c for c in crossed}
    every = [s for signals in gauges.values() for s in signals]
    # one error for all of them: gauges of one lot and logger do not average it out
    gain = made.source("bar gauges", "gauge factor and amplifier", accuracy(every, row))
    reach = stirrup_ends(specimen)
    bars = {n: _bar(made, steel, at[n], signals, row, inputs, found, gain, reach) for n, signals in gauges.items()}
    try:
        stress = {n: float(np.ravel(bar({})[0])[0]) for n, bar in bars.items()}
    except CracktieError as error:
        made.notes.append(f"no V_s: {error}")
        return None
    counted = (
        _Counted.unseen(made, crossed, stress, inputs, angles, reach[1] - reach[0])
        if found.assumed
        else _Counted.on_line(len(crossed), len(bars))
    )
    in_order = [bars[c.number] for c in crossed if c.number in bars]
    taken = np.ravel(counted.weights({})) > 0.0
    values = np.array([stress[c.number] for c in crossed if c.number in bars])[taken]
    at_yield = sum(float(np.ravel(bar({})[1])[0]) >= 0.98 * steel.curve["f_y"] for bar in in_order)
    others = _without_gauges(made, counted, values)

    def function(x: Errors) -> Any:
        weights, stresses = counted.weights(x), [np.atleast_1d(bar(x)[0]) for bar in in_order]
        total = sum(w * s for w, s in zip(weights, stresses, strict=True))
        mean = sum(stresses) / len(stresses)
        return force * (total + x.get(others, 0.0) + mean * ends.count(x))

    how = (
        f"{counted.told}, {at_yield} at yield; stress from the bar's own {steel.words}, at the crack between that of "
        f"the gauge and what bond adds on the way, middle{ends.told}"
    )
    names = ", ".join(s.channel.name for s in every)
    steps = {"crossed": round(counted.number, 2), "gauged": len(bars), "gauges": names, "row": row}
    made.steps.append(("V_s_meas", steps))
    made.used |= {s.channel.name for s in every}
    return made.put("V_s_meas", function, "N", (*made.of_bars, *counted.uses, others, ends.id), how)


def _without_gauges(made: Shares, counted: _Counted, stress: Any) -> str:
    """Source of the crossed stirrups without gauges, MPa: the scatter of three gauged ones or more, else judgement."""
    missing, dof = counted.missing, math.inf
    u, said = U_OTHER_LEG * float(stress.mean()) * missing, f"{missing}, judgement"
    if missing and stress.size >= 3:
        s, dof, said = float(stress.std(ddof=1)), float(stress.size - 1), f"{missing}; scatter of {stress.size} gauged"
        u = s * math.sqrt(missing * counted.number / stress.size)
    return made.source("stirrups without gauges", "stirrups without gauges", u, dof=dof, note=said,
                       kind="A" if math.isfinite(dof) else "B")  # fmt: skip


def _bar(
    made: Shares, steel: _Steel, at: Crossed, signals: Sequence[Signal], row: int, inputs: Member, found: CriticalCrack,
    gain: str, reach: tuple[float, float],
) -> Callable[[Errors], tuple[Any, Any]]:  # fmt: skip
    """(stress at the crack, largest stress at a gauge) of one stirrup: between the gauges' and what bond adds.

    Where nobody digitised the crack it may cross the bar as far from a gauge as the ends `reach` (z, mm).
    """
    between = made.source(
        "bar bond", "bars between gauge and crack", 0.5 / math.sqrt(3.0), "rectangular",
        note="bonded or not between gauge and crack; alike on all bars",
    )  # fmt: skip
    u = 0.0 if found.assumed else U_LINE if "front" in found.lines else U_OTHER_FACE
    place = made.source("crack on the bars", "place of the crack", u, note="judgement")
    rise = math.sin(math.radians(inputs.values["alpha_w"]))
    blur = 2.0 * math.sqrt(3.0) * u  # as for strips: no gauge lies on the crack for certain
    read = []
    for s in signals:
        z = at.z if s.channel.z is None else float(s.channel.z)
        away = z - at.z
        if found.assumed:
            away = reach[1] - reach[0] if s.channel.z is None else max(z - reach[0], reach[1] - z)
        own, common = causes([s], row)
        zero = made.source(f"zero {s.channel.name}", "zero and noise of the gauges", float(own[0]), kind="A")
        off = {zero: 1.0}
        off |= {made.source(f"{id} of bars", c.name, 1.0, note=c.note): float(c.u[0]) for id, c in common.items()}
        top = max(float(held(s, row).max()), s.reached)
        length = np.asarray(np.hypot(blur, s.channel.gauge_length or 0.0))
        read.append((reading(s, row), top, away / rise, length, off))
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
