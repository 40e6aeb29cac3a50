"""Random beams whose strips and sheets carry a known force at a crack, with the gauges that were put on them.

Nothing here is what `cracktie.reduction` assumes: bond laws of six authors with a random bias on stress and slip and
more scatter from leg to leg, bonded lengths marched to any state between elastic and debonded, cracks that curve and
differ between the faces, an opening that varies along them, fibres of one strip that meet the crack at other heights.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.mechanics import bond_law
from cracktie.mechanics.bond_law import BondLaw
from cracktie.mechanics.crack import along_fibre
from cracktie.mechanics.crossing import at_openings, follow_strip, strains_at, strip_forces
from cracktie.mechanics.strip import Anchor, Side
from cracktie.models.bond.laws import law_of

LAWS = ("bond.lu_2005.bilinear", "bond.lu_2005.simplified", "bond.nakaba_2001", "bond.savoia_2003", "bond.dai_2005")
SLICES = 3
"""Slices across one strip; each meets the crack at its own height."""
STEPS = 80
"""States from no opening to `WIDEST`."""
WIDEST = 2.6
"""Largest opening followed, mm."""
POINTS = 64
"""Points of the path of a bonded length."""


@dataclass(frozen=True)
class Bond:
    """A published law with its random bias; `law(k, m)` scales stress by k and slips by m once more."""

    kind: str
    base: BondLaw
    stress: float
    slip: float

    def law(self, k: Any, m: Any) -> BondLaw:
        """Law of one or many legs."""
        k, m = self.stress * np.asarray(k), self.slip * np.asarray(m)
        tau, s_0, s_f = (float(v[0]) for v in (self.base.tau_max, self.base.slip_0, self.base.slip_f))
        G, shape, kind = float(self.base.G_f[0]), float(self.base.rows[0, 2]), self.base.kind
        if kind == "bilinear":
            return bond_law.bilinear(tau * k, s_0 * m, s_f * m)
        if kind == "lu_simplified":
            return bond_law.lu_simplified(tau * k, s_0 * m, G * k * m)
        if kind == "popovics":
            return bond_law.popovics(tau * k, s_0 * m, shape)
        return bond_law.double_exponential(G * k * m, shape / m)


@dataclass(frozen=True)
class Crack:
    """Crack line of one face: heights `z` ascending, x there; `w`, `v` opening and sliding at the last state, mm."""

    x: Any
    z: Any
    w: Any
    v: Any

    def meets(self, centre: float, cot_beta: float, middle: float, low: float, high: float) -> tuple[float, ...] | None:
        """Height, opening, sliding and angle (degrees) where the fibre through (centre, middle) meets the line.

        The fibre leans towards the support (x falls with z for cot_beta > 0).
        """
        off = self.x - (centre - (self.z - middle) * cot_beta)
        i = np.flatnonzero(off[:-1] * off[1:] <= 0.0)
        if not len(i):
            return None
        j = int(i[0])
        t = off[j] / (off[j] - off[j + 1]) if off[j] != off[j + 1] else 0.0
        z, w, v = (float(a[j] + t * (a[j + 1] - a[j])) for a in (self.z, self.w, self.v))
        if not low <= z <= high:
            return None
        return z, w, v, math.degrees(math.atan2(self.z[j + 1] - self.z[j], self.x[j + 1] - self.x[j]))


@dataclass(frozen=True)
class Wrapped:
    """One beam as it really is: mm, N, MPa. `centres` of the strips (sheet: of its slices) as glued."""

    h: float
    b_w: float
    length: float
    scheme: str
    anchored: bool
    layout: str
    beta: float
    low: float
    high: float
    width: float
    centres: tuple[float, ...]
    stiffness: float
    bond: Bond
    cracks: dict[str, Crack]
    anchor: Anchor | None
    seed: int

    @property
    def cot(self) -> float:
        """Cotangent of the fibre angle."""
        return 1.0 / math.tan(math.radians(self.beta))


def draw_bond(rng: np.random.Generator, f_c: float, cover: float, stiffness: float) -> Bond:
    """One of the published laws; its stress off by a factor of about 1 +- 20 %, its slips by 1 +- 30 %."""
    kind = LAWS[int(rng.integers(len(LAWS)))]
    f_ctm = 0.3 * (f_c - 4.0) ** (2.0 / 3.0)
    frp = {"n": 1, "t_f": 1.0, "E_f": stiffness, "K_a": 5000.0}
    base = law_of(kind, {"f_c": f_c, "f_ctm": f_ctm, "cover": cover, **frp})
    return Bond(kind, base, float(rng.lognormal(0.0, 0.20)), float(rng.lognormal(0.0, 0.30)))


def draw_cracks(rng: np.random.Generator, h: float, length: float, w_max: float) -> dict[str, Crack]:
    """The two faces' lines of one crack: a chord at 26 to 52 degrees, bulging and rough; faces differ by some 10 mm."""
    theta = math.radians(rng.uniform(26.0, 52.0))
    z = np.linspace(0.06 * h, rng.uniform(0.82, 0.93) * h, 40)
    t = (z - z[0]) / (z[-1] - z[0])
    run = min((z[-1] - z[0]) / math.tan(theta), 0.92 * length)
    start = rng.uniform(0.02, 0.98) * max(length - run - 30.0, 1.0) + 15.0
    bulge, power, slide = rng.normal(0.0, 0.06), rng.uniform(0.2, 1.3), rng.uniform(0.05, 0.6)
    middle = rng.uniform(0.0, 0.5)
    shape = (1.0 - t) ** power * (1.0 - middle) + middle * 4.0 * t * (1.0 - t) + 0.03
    shape = shape / shape.max()
    found = {}
    shift, turn = rng.normal(0.0, 10.0), rng.normal(0.0, 12.0)
    for face, sign in (("front", 0.0), ("back", 1.0)):
        rough = np.interp(t, np.linspace(0.0, 1.0, 9), rng.normal(0.0, 0.012 * h, 9))
        steeper = t + bulge * np.sin(math.pi * t) * 2.0
        x = start + run * steeper + rough + sign * (shift + turn * (t - 0.5))
        w = w_max * shape * (1.0 if not sign else float(rng.lognormal(0.0, 0.10)))
        found[face] = Crack(np.maximum.accumulate(x), z, w, slide * w)
    return found


def slices(beam: Wrapped) -> Any:
    """Offsets across one strip along x, mm; one for a sheet, whose `centres` are slices themselves."""
    if beam.layout == "continuous":
        return np.zeros(1)
    across = beam.width / math.sin(math.radians(beam.beta))
    return across * ((np.arange(SLICES) + 0.5) / SLICES - 0.5)


@dataclass(frozen=True)
class Leg:
    """One strip (or slice of a sheet) of one face on the crack: forces (steps,) and what a gauge needs."""

    number: int
    face: str
    height: float
    force: Any
    upper: Side
    lower: Side
    below: float
    path: Any
    opening: Any

    def strains(self, beam: Wrapped, places: Sequence[float], gauge_length: float, openings: Any = None) -> Any:
        """(states, places): mean strain over gauges whose middle is at these heights on the middle line, at all states
        or at the openings (states,) given."""
        rise = math.sin(math.radians(beam.beta))
        wanted = self.opening if openings is None else openings
        states = at_openings(self.path, wanted)
        found = np.zeros((len(wanted), len(places)))
        z = np.asarray(places, dtype=float)
        for side, rows, from_end in (
            (self.upper, states.upper, (beam.high - z) / rise),
            (self.lower, states.lower, (z - beam.low) / rise + self.below),
        ):
            top = float(np.asarray(side.length).reshape(-1)[0])
            on = (from_end >= 0.0) & (from_end <= top)
            if on.any():
                found[:, on] = strains_at(side, rows, np.clip(from_end[on], 0.0, top), gauge_length)
        return found


def sides(beam: Wrapped, z: Any, law: BondLaw, stiffness: Any, width: float) -> tuple[Side, Side, float]:
    """Bonded lengths above and below the crack (free, fixed at a wrapped edge, or anchored) and what lies below z."""
    rise = math.sin(math.radians(beam.beta))
    below = beam.b_w / 2 if beam.scheme in ("u", "full") else 0.0
    over = beam.b_w / 2 if beam.scheme == "full" else 0.0
    springs = (beam.anchor,) if beam.anchor is not None else ()
    up = Side((beam.high - z) / rise + over, stiffness, width, law, fixed=beam.scheme == "full", anchors=springs)
    down = Side((z - beam.low) / rise + below, stiffness, width, law, fixed=beam.scheme in ("u", "full"))
    return up, down, below


def legs(beam: Wrapped) -> list[Leg]:
    """Every leg the true crack crosses, with its force (N, along the fibre) at `STEPS` states of a growing opening."""
    rng = np.random.default_rng((beam.seed, 7))
    grow = np.linspace(0.0, 1.0, STEPS + 1)[1:] ** 1.7
    middle = beam.h / 2
    found = []
    for face, crack in beam.cracks.items():
        for number, centre in enumerate(beam.centres, start=1):
            k, m = rng.lognormal(0.0, 0.08), rng.lognormal(0.0, 0.08)
            offsets = slices(beam)
            met = [crack.meets(centre + o, beam.cot, middle, beam.low + 8.0, beam.high - 8.0) for o in offsets]
            if met[len(met) // 2] is None:
                continue
            good = [one for one in met if one is not None]
            z = np.array([one[0] for one in good])
            end = np.array([
                max(float(along_fibre(w, v, theta=theta, beta=beam.beta)), 1e-4) for _, w, v, theta in good
            ])  # fmt: skip
            law = beam.bond.law(np.full(len(z), k), np.full(len(z), m))
            width = beam.width / len(offsets)
            up, down, below = sides(beam, z, law, beam.stiffness, width)
            force = np.nansum(strip_forces(up, down, end[:, None] * grow, points=POINTS), axis=0)
            i = sum(one is not None for one in met[: len(met) // 2])
            one_law = beam.bond.law(k, m)
            up, down, below = sides(beam, z[i], one_law, beam.stiffness, width)
            path = follow_strip(up, down, opening_max=float(end[i]) * 1.02, points=POINTS)
            found.append(Leg(number, face, float(z[i]), force, up, down, below, path, end[i] * grow))
    return found
