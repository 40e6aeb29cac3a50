"""Gauges of the strip legs (or fibres of a sheet) on the critical crack, as `lab.crack_strain` takes them; mm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.lab import crack
from cracktie.lab import crack_strain as lab
from cracktie.member import Member
from cracktie.models.bond.laws import law_of
from cracktie.reduction.crossing import CriticalCrack, Crossed
from cracktie.reduction.gauges import reading
from cracktie.reduction.signals import Signal

BLOCKS = 2000
"""Stretches of rows in which a strain has to hold to count as reached."""
LONGEST_SPIKE = 2
"""Rows of a spike that never counts as reached."""
FALLEN = 0.5
"""A gauge below this share of the largest strain it held has fallen; our own choice."""
SEEN = 300e-6
"""Strain above which a gauge says something of the leg's history; our own choice."""
BOND_LAWS = ("bond.lu_2005.simplified", "bond.nakaba_2001", "bond.savoia_2003")
"""Bond laws behind the bounds, by their geometric means: those that follow from the concrete and the width alone."""
U_TESTS = 0.3
"""Relative standard uncertainty of stress and energy of one specimen about a law: judgement, no source."""
CHORD, LONGEST_CHORD = 0.05, 150.0
"""How far a crack leaves the chord between two digitised points, over its length, up to a length in mm: judgement."""
NEAREST = 5
"""Places of a profile taken on each side of the crack."""


@dataclass(frozen=True)
class Leg:
    """One leg on the crack: where, its gauges, the names of their channels, and what makes each reading uncertain.

    `own` (gauges,) is the standard uncertainty of each by itself, `shared` that of errors which gauges have in common,
    by the error's id.
    """

    at: Crossed
    gauges: lab.LegGauges
    names: tuple[str, ...]
    own: Any
    shared: Mapping[str, Shared]
    profile: bool = False

    @property
    def largest(self) -> float:
        """Largest reading."""
        return float(np.max(self.gauges.strain))

    @property
    def nearest(self) -> float:
        """Distance of the nearest gauge from the crack along the fibre, mm."""
        return float(np.min(np.abs(self.gauges.place)))


@dataclass(frozen=True)
class Shared:
    """An error that gauges have in common: name and note in words, standard uncertainty of each gauge (gauges,)."""

    name: str
    note: str
    u: Any


def causes(signals: Sequence[Signal], row: int) -> tuple[Any, dict[str, Shared]]:
    """What makes readings uncertain that does not grow with them: each by itself, and what they share."""
    own, shared = np.zeros(len(signals)), dict[str, Shared]()
    for i, s in enumerate(signals):
        told = [p for p in s.parts if p.order == 0 and p.name != "calibration" and math.isfinite(p.at(row, 0.0))]
        alone = [p.at(row, 0.0) for p in told if not p.shared] if s.parts else [s.u_zero]
        own[i] = math.hypot(s.noise, *alone)
        for p in (p for p in told if p.shared and p.at(row, 0.0) > 0.0):
            one = shared.setdefault(
                f"{p.name}, {p.shared}", Shared(p.name, f"shared by {p.shared}", np.zeros(len(signals)))
            )
            one.u[i] = math.hypot(one.u[i], p.at(row, 0.0))
    return own, shared


def held(signal: Signal, row: int) -> Any:
    """Strains that lasted: least reading of each stretch of rows up to `row`, so that no spike counts; NaN is 0."""
    values = np.nan_to_num(np.asarray(signal.values[: row + 1], dtype=float), nan=0.0)
    size = max(LONGEST_SPIKE + 1, -(-len(values) // BLOCKS))
    whole = len(values) // size * size
    if whole == 0:
        return values[-1:]
    return values[len(values) - whole :].reshape(-1, size).min(axis=1)


def leg_of(
    at: Crossed, gauges: Sequence[tuple[Signal, float]], row: int, beta: float, ends: tuple[float, float]
) -> Leg:
    """A leg from its gauges with their heights z (mm); `ends` as `crack_strain.LegGauges`."""
    rise = math.sin(math.radians(beta))
    place = np.array([(z - at.z) / rise for _, z in gauges])
    strain = np.array([reading(s, row) for s, _ in gauges])
    kept = np.vstack([held(s, row) for s, _ in gauges])
    peak = kept.max(axis=1)
    seen = peak > SEEN
    gone = bool(seen.any() and min(ends) < math.inf and (strain[seen] < FALLEN * peak[seen]).all())
    length = np.array([float(s.channel.gauge_length or 0.0) for s, _ in gauges])
    made = lab.LegGauges(place, length, strain, lab.outer_slip(place, kept), peak, ends, gone)
    own, shared = causes([s for s, _ in gauges], row)
    return Leg(at, made, tuple(s.channel.name for s, _ in gauges), own, shared)


def leg_of_profile(
    at: Crossed, z: Any, strain: Any, u: tuple[Any, Any], file: str, beta: float, ends: tuple[float, float]
) -> Leg | None:
    """A leg from a profile along it; the places nearest to the crack on both sides. None without a reading.

    `u` are the standard uncertainties of the places, whole and what they share.
    """
    good = np.isfinite(strain)
    place = (np.asarray(z, dtype=float)[good] - at.z) / math.sin(math.radians(beta))
    strain = np.asarray(strain, dtype=float)[good]
    whole, common = (np.broadcast_to(x, np.shape(z))[good] for x in u)
    if not place.size:
        return None
    slip = lab.outer_slip(place, strain[:, None])
    order = np.argsort(np.abs(place))
    near = np.sort(np.concatenate([order[place[order] < 0.0][:NEAREST], order[place[order] >= 0.0][:NEAREST]]))
    none = np.zeros(near.size)
    made = lab.LegGauges(place[near], none, strain[near], slip[near], strain[near], ends)
    own = np.sqrt(np.maximum(whole[near] ** 2 - common[near] ** 2, 0.0))
    shared = {file: Shared("accuracy of the profile", f"shared by all places of {file}", common[near])}
    return Leg(at, made, (file,), own, shared, profile=True)


def ends_of(at: Crossed, edges: tuple[float, float], inputs: Mapping[str, Any]) -> tuple[float, float]:
    """Bonded length below and above a crossing to a free end, mm; infinite where wrap or anchor holds the leg."""
    low, high = edges
    rise = math.sin(math.radians(inputs["beta"]))
    free_below = inputs["scheme"] == "side" and not inputs["anchored"]
    free_above = inputs["scheme"] != "full" and not inputs["anchored"]
    return (
        max(at.z - low, 0.0) / rise if free_below else math.inf,
        max(high - at.z, 0.0) / rise if free_above else math.inf,
    )


def bond_law(inputs: Member) -> tuple[lab.Law, tuple[float, float], float]:
    """Mean bond law of the sheet on this concrete, relative u of its stress and energy, and n t_f E_f in N/mm.

    The published laws differ by a factor of two to four in energy, and nothing says which fits this concrete: their
    standard deviation is that of one law, and specimens scatter about it.
    """
    v = inputs.values
    cover = 1.0
    if v["layout"] == "strips":
        cover = min(v["w_f"] / math.sin(math.radians(v["beta"])) / v["s_f"], 1.0)
    known = {"f_c": v["f_c"], "f_ctm": v["f_ctm"], "cover": cover}
    laws = [law_of(which, known) for which in BOND_LAWS]
    logs = np.log([[float(x[0]) for x in (w.tau_max, w.slip_0, w.G_f)] for w in laws])
    u_stress, _, u_energy = np.hypot(logs.std(axis=0, ddof=1), U_TESTS)
    law = lab.Law(*map(float, np.exp(logs.mean(axis=0))))
    return law, (float(u_stress), float(u_energy)), v["n"] * v["t_f"] * v["E_f"]


def place_along(at: Crossed, found: CriticalCrack, beta: float, u: float) -> float:
    """Standard uncertainty (mm along the fibre) of the crack's place, from `u` across it and the chord of the line."""
    x, z = (np.asarray(v, dtype=float) for v in found.line(at.face))
    steps = np.hypot(np.diff(x), np.diff(z))
    if z[0] > z[-1]:
        steps = steps[::-1]
    chord = steps[min(int(np.searchsorted(np.cumsum(steps), at.along)), len(steps) - 1)]
    return math.hypot(u, CHORD * min(float(chord), LONGEST_CHORD)) / _turned(at, found, beta)[0]


def _turned(at: Crossed, found: CriticalCrack, beta: float) -> tuple[float, float]:
    """Sine and cosine of the angle between crack and fibre at a crossing."""
    angle = float(crack.angles_along(*found.line(at.face), np.array([at.along]))[0])
    turned = math.radians(min(max(angle + beta, 20.0), 160.0))
    return math.sin(turned), math.cos(turned)


def climb(at: Crossed, found: CriticalCrack, inputs: Mapping[str, Any]) -> float:
    """How far (mm along the fibre) the crack climbs over half the width of a strip; 0 on a sheet."""
    if inputs["layout"] != "strips":
        return 0.0
    sine, cosine = _turned(at, found, inputs["beta"])
    return float(0.5 * inputs["w_f"] * abs(cosine / sine))


def changed(law: lab.Law, stress: Any, energy: Any) -> lab.Law:
    """The law with its stress and energy times these factors; the slip of the peak stays."""
    return replace(law, tau_max=law.tau_max * stress, G_f=law.G_f * energy)


def strip_legs(
    signals: Iterable[Signal],
    row: int,
    crossed: Sequence[Crossed],
    inputs: Mapping[str, Any],
    edges: Mapping[str, tuple[float, float]],
) -> dict[tuple[int, str], Leg]:
    """Crossed strip legs with a gauge that reads at this row and says its height z, by (strip, face)."""  # fmt: skip
    on: dict[tuple[int, str], list[tuple[Signal, float]]] = {}
    known = {(c.number, c.face): c for c in crossed}
    for signal in signals:
        key = (signal.channel.strip or 0, str(signal.channel.face or "front"))
        if key in known and math.isfinite(reading(signal, row)):
            z = known[key].z if signal.channel.z is None else float(signal.channel.z)
            on.setdefault(key, []).append((signal, z))
    return {
        key: leg_of(known[key], gauges, row, inputs["beta"], ends_of(known[key], edges[key[1]], inputs))
        for key, gauges in on.items()
    }
