"""V_f by measured strains: strips on the critical crack, as functions of named errors; N, mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.specimen import Specimen, wrap_edges
from cracktie.lab import crack as lab
from cracktie.lab import crack_strain
from cracktie.lab.chain import Chain, Errors, Source
from cracktie.member import Member
from cracktie.reduction.crack_legs import (
    BOND_LAWS,
    Leg,
    bond_law,
    changed,
    climb,
    ends_of,
    leg_of_profile,
    place_along,
    strip_legs,
)
from cracktie.reduction.crossing import CriticalCrack, Crossed, crossed_strips
from cracktie.reduction.gauges import accuracy
from cracktie.reduction.profiles import ProfileReading
from cracktie.reduction.signals import Signals

U_STIFFNESS = 0.03
"""Relative standard uncertainty of E_f t_f where the material states none (no source)."""
U_ACROSS = 0.05
"""Relative standard uncertainty of a leg's strain from gauges on one line of its width: judgement, no source."""
LARGEST_OF = (0.0, 0.0, 0.56, 0.85, 1.03, 1.16, 1.27)
"""Mean of the largest of so many standard normal values (order statistics)."""
U_LEG = 1.0 / math.sqrt(3.0)
"""Relative standard uncertainty of legs without a gauge, fewer than three others having one: between nothing and
twice the gauged, alike on all of them, for legs let go as the crack opens; judgement, no source."""
U_LINE, U_OTHER_FACE, U_NO_LINE = 6.0, 15.0, 60.0
"""Standard uncertainty of the crack's place across it, mm: line of this face, of the other face only, none at all;
judgement, no source."""
U_UNSEEN = 0.5
"""Relative standard uncertainty of V_f where no line is digitised: judgement, no source (which legs count)."""
STRONGER = 1.2
"""Energy of the bond over the least that the strains of a leg with a free end prove; our own choice."""
FAR = 40.0
"""Distance in mm of the nearest gauge beyond which a leg is told as hardly measured; our own choice."""


@dataclass(frozen=True)
class Fibres:
    """What the fibres carry: `legs` with gauges, `missing` legs, strains at the crack, functions for the chain."""

    legs: Sequence[Leg]
    missing: int
    force: Callable[[Errors], Any]
    mean: Callable[[Errors], Any]
    largest: float
    uses: tuple[str, ...]
    how: str
    notes: tuple[str, ...] = ()


class Reader:
    """Strains at the crack of gauged legs as functions of errors; sources they share are put into the chain once."""

    def __init__(self, chain: Chain, test: str, inputs: Member, found: CriticalCrack, gain: float) -> None:
        self.chain, self.test, self.inputs, self.crack = chain, test, inputs, found
        self.law, (u_stress, u_energy), self.stiffness = bond_law(inputs)
        self.longer = math.exp(u_energy)  # the bond that a slip proves torn may hold that much more
        v = inputs.values
        stated = inputs.u.get("E_f")
        relative = stated / v["E_f"] if stated else U_STIFFNESS
        said = "E_f" if stated else "judgement, none is stated"
        self.rupture = float(v.get("eps_fu") or math.inf)
        self.E = self.source("E_f t_f", "fibre stiffness", relative, note=said)
        self.gain = self.source("FRP gauges", "gauge factor and amplifier", gain)
        law = f"mean of {len(BOND_LAWS)} published laws, their scatter and that of specimens"
        self.stress = self.source("bond stress", "bond law: stress", u_stress, note=law)
        self.energy = self.source("bond energy", "bond law: energy", u_energy, note=law)
        self.between = self.source(
            "bond state", "strain at the crack between its bounds", 0.5 / math.sqrt(3.0), "rectangular",
            note="bonded or torn between gauge and crack; alike on all legs",
        )  # fmt: skip
        self.uses = [self.E, self.gain, self.stress, self.energy, self.between]

    def source(self, what: str, name: str, u: float, shape: str = "normal", **more: Any) -> str:
        """Put an error of this test into the chain; gives its id."""
        return self.chain.source(Source(f"{what}, {self.test}", name, u, shape, **more))

    def believe(self, legs: Sequence[Leg]) -> None:
        """A leg with a free end that carried more than sqrt(2 G_f/K) says that the bond is stronger than the law."""
        free = [leg for leg in legs if min(leg.gauges.ends) < math.inf]
        most = max((float(np.max(leg.gauges.peak)) for leg in free), default=0.0)
        least = STRONGER * 0.5 * self.stiffness * most**2
        if least > self.law.G_f:
            self.law = replace(self.law, G_f=least)

    def most(self, ends: tuple[float, float]) -> float:
        """Largest strain of a leg with these ends by its bond alone; infinite where both are held."""
        law, end = self.law, min(ends)
        if math.isinf(end):
            return math.inf
        return min(law.tau_max * end / self.stiffness, math.sqrt(2.0 * law.G_f / self.stiffness))

    def near_edges(self, crossed: Sequence[Crossed], edges: Mapping[str, tuple[float, float]], beyond: int) -> str:
        """Source of the legs so near to an edge of their bond that the crack may pass beside them, in legs.

        `beyond` legs are not crossed, but would be by a line a little longer. A leg counts or not: u is half of it.
        """
        near = dict[int, float]()  # faces of a strip add up, they are crossed by one crack
        for c in crossed:
            reach = 2.0 * (U_LINE if c.face in self.crack.lines else U_OTHER_FACE)
            rise = climb(c, self.crack, self.inputs.values) * math.sin(math.radians(self.inputs.values["beta"]))
            within = min(c.z - edges[c.face][0], edges[c.face][1] - c.z) - reach
            near[c.number] = near.get(c.number, 0.0) + min(max(1.0 - within / max(rise, 1e-9), 0.0), 1.0)
        u = 0.5 * math.hypot(*near.values(), beyond) if not self.crack.assumed else 0.0
        said = f"{sum(n > 0.0 for n in near.values())} strips crossed close to an edge or over a part of their width"
        said += f", {beyond} legs just missed" if beyond else ""
        return self.source("legs at the edges", "legs crossed near an edge", u, note=said)

    def strain(self, leg: Leg) -> Callable[[Errors], Any]:
        """Strain of a leg at the crack: between the bounds, in the middle of them unless the errors say else."""
        face = leg.at.face
        u = U_NO_LINE if self.crack.assumed else U_LINE if face in self.crack.lines else U_OTHER_FACE
        if not self.crack.assumed:
            u = place_along(leg.at, self.crack, self.inputs.values["beta"], u)
        # in units of its own u, for one line is off another distance along each fibre
        place = self.source(f"crack on the {face}", "place of the crack", 1.0, note="judgement")
        key = f"{leg.at.number:g} {face}"
        run = climb(leg.at, self.crack, self.inputs.values)
        gauges = replace(leg.gauges, run=run)
        # fibres of shorter ends may have let go where that of the gauges has not
        uneven = 0.0 if gauges.gone else gauges.slack / math.sqrt(3.0)
        across = self.source(f"across {key}", "strain across the width", math.hypot(U_ACROSS, uneven),
                             note="judgement, leg by leg")  # fmt: skip
        names = [f"{leg.names[0]} {key} {i}" for i in range(len(leg.own))] if leg.profile else leg.names
        zeros = [
            self.source(f"zero {name}", "zero and noise of the gauges", float(s), kind="A")
            for name, s in zip(names, leg.own, strict=True)
        ]
        shared = {self.source(id, s.name, 1.0, note=s.note): s.u[:, None] for id, s in leg.shared.items()}
        self.uses += [place, across, *zeros, *shared]
        # the largest of several gauges that read alike is so by their scatter over the width: that much is taken off
        alike = int((leg.gauges.strain > (1.0 - 2.0 * U_ACROSS) * leg.largest).sum())
        usual = 1.0 if leg.profile else 1.0 - U_ACROSS * LARGEST_OF[min(alike, len(LARGEST_OF) - 1)]
        # where the line is a few mm off, no gauge lies on the crack: the place widens the gauge
        blurred = replace(gauges, length=np.hypot(leg.gauges.length, 2.0 * math.sqrt(3.0) * min(u, U_OTHER_FACE)))

        def function(x: Errors) -> Any:
            law = changed(self.law, _factor(x, self.stress), _factor(x, self.energy))
            if self.crack.assumed:
                return self._anywhere(leg, law, x) * (1.0 + x.get(across, 0.0))
            zero = np.stack(np.broadcast_arrays(*(np.atleast_1d(x.get(z, 0.0)) for z in zeros)))
            zero = zero + sum(u * x.get(id, 0.0) for id, u in shared.items())
            low, high = crack_strain.bounds(
                blurred, law, self.stiffness, largest=self.rupture, shift=u * x.get(place, 0.0),
                gain=1.0 + x.get(self.gain, 0.0), zero=zero, proof=changed(law, 1.0, self.longer),
            )  # fmt: skip
            share = np.clip(0.5 + x.get(self.between, 0.0), 0.0, 1.0)
            return (low + share * (high - low)) * usual * (1.0 + x.get(across, 0.0))

        return function

    def _anywhere(self, leg: Leg, law: crack_strain.Law, x: Errors) -> Any:
        """Strain of a leg whose crack is only assumed: the largest reading or more, as far as bond can hold it."""
        low = leg.largest * (1.0 + x.get(self.gain, 0.0))
        high = np.maximum(low, np.minimum(np.sqrt(2.0 * law.G_f / self.stiffness), self.rupture))
        return low + np.clip(0.5 + x.get(self.between, 0.0), 0.0, 1.0) * (high - low)


def _factor(x: Errors, id: str) -> Any:
    """Factor of mean about 1 that stays above 0: exp of the relative error."""
    return np.exp(x.get(id, 0.0))


def strips(
    chain: Chain, name: str, specimen: Specimen, span: str, signals: Signals, profiles: Sequence[ProfileReading],
    row: int, found: CriticalCrack, inputs: Member,
) -> Fibres | None:  # fmt: skip
    """Sum over the strip legs that the crack crosses; None where none of them has a reading."""
    wrap, section = specimen.spans[span].wrap, specimen.section
    assert wrap is not None
    assert section is not None
    crossed = crossed_strips(specimen, span, found)
    edges = {face: wrap_edges(wrap, section, face) for face in ("front", "back")}
    v = inputs.values
    gauges = signals.of("FRP strain")
    legs = strip_legs(gauges, row, crossed, v, edges)
    legs |= _profiled(profiles, crossed, v, edges, specimen)
    if not legs:
        return None
    used = {n for leg in legs.values() for n in leg.names}
    reader = Reader(chain, name, inputs, found, accuracy([s for s in gauges if s.channel.name in used], row))
    one = lab.strip_force(1.0, width=v["w_f"], thickness=v["n"] * v["t_f"], modulus=v["E_f"], beta=v["beta"])
    reader.believe(list(legs.values()))
    strain = {key: reader.strain(leg) for key, leg in legs.items()}
    usual = float(np.mean([np.ravel(f({}))[0] for f in strain.values()]))
    weights, others = _others(crossed, legs, lambda c: reader.most(ends_of(c, edges[c.face], v)) / max(usual, 1e-9))
    scatter, dof, said = _scatter(legs, strain, weights, len(others))
    missing = reader.source("legs without gauges", "legs without gauges", scatter, dof=dof, note=said,
                             kind="A" if math.isfinite(dof) else "B")  # fmt: skip
    unseen = reader.source("no line", "crack not digitised", U_UNSEEN if found.assumed else 0.0, note="judgement")
    theta = f"theta, {name}"
    reach = {f: 2.0 * (U_LINE if f in found.lines else U_OTHER_FACE) for f in edges}
    longer = [c for f, by in reach.items() for c in crossed_strips(specimen, span, _longer(found, by)) if c.face == f]
    near = reader.near_edges(crossed, edges, max(len(longer) - len(crossed), 0))

    def force(x: Errors) -> Any:
        each = {key: f(x) for key, f in strain.items()}
        total = sum(weights[key] * each[key] for key in each) + x.get(missing, 0.0)
        total = total + x.get(near, 0.0) * sum(each.values()) / len(each)
        more = 1.0 + x.get(unseen, 0.0) - x.get(theta, 0.0) * _turn(found)
        return one * total * (1.0 + x.get(reader.E, 0.0)) * more

    def mean(x: Errors) -> Any:
        return sum(f(x) for f in strain.values()) / len(strain)

    reads = {key: leg.largest for key, leg in legs.items()}
    largest = one * sum(weights[key] * reads[key] for key in reads)
    lines = "the digitised line" if not found.assumed else f"a {found.angle:g} deg line, none is digitised"
    how = (
        f"sum of n t w E eps sin(beta) over {len(crossed)} legs on {lines}, strain at the crack in the middle of the "
        f"bounds that gauges and bond set"
    )
    if others:
        how += f"; {len(others)} legs without a gauge taken like the other leg of their strip or the mean"
    uses = (*reader.uses, missing, unseen, theta, near)
    return Fibres(tuple(legs.values()), len(others), force, mean, float(largest), uses, how, _far(legs.values()))


def _longer(found: CriticalCrack, by: float) -> CriticalCrack:
    """The crack with its lines going straight on by so many mm at both ends."""
    lines = {}
    for face, line in found.lines.items():
        p = np.array(line, dtype=float).T
        first, last = p[0] - p[1], p[-1] - p[-2]
        more = [p[0] + by * first / math.hypot(*first), *p, p[-1] + by * last / math.hypot(*last)]
        lines[face] = (tuple(float(q[0]) for q in more), tuple(float(q[1]) for q in more))
    return replace(found, lines=lines)


def _turn(found: CriticalCrack) -> float:
    """Relative change of a force with the angle of an assumed crack, 1/rad: it crosses legs as cot(theta)."""
    if not found.assumed:
        return 0.0
    theta = math.radians(found.angle)
    return 1.0 / (math.sin(theta) * math.cos(theta)) if theta < math.pi / 2 - 0.1 else 0.0


def _others(
    crossed: Sequence[Crossed], legs: Mapping[tuple[int, str], Leg], most: Callable[[Crossed], float]
) -> tuple[dict[tuple[int, str], float], list[Crossed]]:
    """How often each gauged leg counts (itself, its ungauged partner, its part of the mean), and the ungauged legs.

    `most` is what the bond of a leg can hold over the mean of the gauged: an ungauged one counts no more.
    """
    weights = dict.fromkeys(legs, 1.0)
    others = [c for c in crossed if (c.number, c.face) not in legs]
    for c in others:
        partner = (c.number, "back" if c.face == "front" else "front")
        part = min(most(c), 1.0)
        if partner in legs:
            weights[partner] += part
        else:
            for key in legs:
                weights[key] += part / len(legs)
    return weights, others


def _scatter(
    legs: Mapping[tuple[int, str], Leg], strain: Mapping[tuple[int, str], Callable[[Errors], Any]],
    weights: Mapping[tuple[int, str], float], missing: int,
) -> tuple[float, float, str]:  # fmt: skip
    """Standard uncertainty of the sum of the strains of the legs without gauges, its degrees of freedom, and words.

    With three gauged legs or more from their scatter s: each other leg has s of its own, and each error of a gauged leg
    counts as often as it stands for others: s sqrt(m + sum (weight - 1)^2). Independent legs are assumed.
    """
    if not missing:
        return 0.0, math.inf, ""
    values = np.array([float(np.ravel(f({}))[0]) for f in strain.values()])
    times = math.sqrt(missing + sum((w - 1.0) ** 2 for w in weights.values()))
    if len(values) >= 3:
        s = float(values.std(ddof=1))
        said = f"{missing} legs; scatter of {len(values)} gauged legs along the crack"
        return times * s, float(len(values) - 1), said
    return U_LEG * float(values.mean()) * (sum(weights.values()) - len(values)), math.inf, f"{missing} legs, judgement"


def _far(legs: Any) -> tuple[str, ...]:
    """Legs that no gauge measures near the crack."""
    far = [f"strip {leg.at.number} {leg.at.face} ({leg.nearest:.0f} mm)" for leg in legs if leg.nearest > FAR]
    if not far:
        return ()
    return (f"V_f by strains: no gauge within {FAR:g} mm of the crack on {', '.join(far)}; their u is wide",)


def _profiled(
    profiles: Sequence[ProfileReading], crossed: Sequence[Crossed], v: Mapping[str, Any],
    edges: Mapping[str, tuple[float, float]], specimen: Specimen,
) -> dict[tuple[int, str], Leg]:  # fmt: skip
    """Legs read by a profile along the strip, or where a profile along the crack passes them."""
    made: dict[tuple[int, str], Leg] = {}
    for c in crossed:
        for p in profiles:
            if p.face != c.face or (p.along == "strip" and p.strip != c.number):
                continue
            z, strain, u = p.position, p.strain, (p.u, p.u if p.u_common is None else p.u_common)
            if p.along == "crack":
                across = v["w_f"] / math.sin(math.radians(v["beta"])) / 2.0
                on = np.abs(np.asarray(p.position) - c.along) <= across
                if not (on & np.isfinite(strain)).any():
                    continue
                z, strain, u = np.array([c.z]), np.array([np.nanmean(strain[on])]), _largest(u, on)
            leg = leg_of_profile(c, z, strain, u, p.file, v["beta"], ends_of(c, edges[c.face], v))
            if leg is not None:
                made[(c.number, c.face)] = leg
    return made


def _largest(u: tuple[Any, Any], on: Any) -> tuple[Any, Any]:
    """Largest uncertainties of the places that are on a strip."""
    whole, common = (np.broadcast_to(x, on.shape)[on] for x in u)
    return float(np.nanmax(whole)), float(np.nanmax(common))
