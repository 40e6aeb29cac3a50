"""Bonded legs and bars across a simulated crack, in closed form; N, mm, MPa, strain as a ratio.

The bond of a sheet follows tau = 2 B G (exp(-B s) - exp(-2 B s)), a shape that Dai, Ueda and Sato proposed in 2005,
with numbers of our own: other ones, and another way to solve it, than those of prediction and reduction. On a rigid
substrate E t s'' = tau(s) has the first integral eps^2 = eps_0^2 + A^2 (y^2 - y_0^2) with y = 1 - exp(-B s) and
A^2 = 2 G/(E t); with T = exp(B s), a = eps_0^2 + A^2 (1 - y_0^2) and z = a T - A^2 it becomes z'' = a B^2 z, so that

    z(x) = z_0 cosh(w x) + sqrt(a) T_0 eps_0 sinh(w x),  w = B sqrt(a),  x from the far end,

exactly and for any far end: free (eps_0 = 0), fixed (s_0 = 0) or held by a spring. Own derivation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

STATES = 400
"""States of a bonded length between rest and far beyond debonding."""
FARTHEST, FREE = 4.0, 0.05
"""Largest slip of a free far end, mm, and largest strain of a fixed one, where the whole length has long let go."""


TINY = 1e-300
"""In place of a logarithm's zero."""


def _grid(least: float, most: float) -> Any:
    """States from rest on in equal ratios."""
    return np.concatenate([[0.0], np.geomspace(least, most, STATES - 1)])


@dataclass(frozen=True)
class Bond:
    """Law of one leg: energy `G` in N/mm and rate `B` in 1/mm on a sheet of stiffness E t (N/mm)."""

    G: float
    B: float
    stiffness: float

    @property
    def A(self) -> float:
        """Strain of a long bonded length at its largest force."""
        return float(np.sqrt(2.0 * self.G / self.stiffness))

    def at(self, x: Any, far_slip: Any, far_strain: Any) -> tuple[Any, Any]:
        """Slip and strain at `x` from the far end for far-end states; arrays that broadcast."""
        A2, T_0 = self.A**2, np.exp(self.B * np.asarray(far_slip))
        a = far_strain**2 + A2 * (2.0 - 1.0 / T_0) / T_0  # 1 - y_0^2 without cancellation
        z_0, dz_0 = far_strain**2 * T_0 + A2 * (1.0 - 1.0 / T_0), np.sqrt(a) * T_0 * far_strain
        rate = self.B * np.sqrt(a)
        cosh, sinh = np.cosh(rate * x), np.sinh(rate * x)
        z = z_0 * cosh + dz_0 * sinh
        return np.log((z + A2) / a) / self.B, np.sqrt(a) * (z_0 * sinh + dz_0 * cosh) / (z + A2)


@dataclass(frozen=True)
class Length:
    """A bonded length from its far end to the crack: `end` free, fixed, or a spring of `spring` strain per mm of slip
    that yields at the strain `most`."""

    bond: Bond
    length: float
    end: str = "free"
    spring: float = 0.0
    most: float = np.inf

    @cached_property
    def states(self) -> tuple[Any, Any, Any, Any]:
        """Far slip, far strain, and slip and strain at the crack, arrays (states,); the first is at rest."""
        least = 1e-6 * math.exp(-min(self.bond.B * self.bond.A * self.length, 300.0))  # what a far end feels first
        if self.end == "fixed":
            slip, strain = np.zeros(STATES), _grid(least * self.bond.A, FREE)
        else:
            slip = _grid(least / self.bond.B, FARTHEST)
            strain = np.minimum(self.spring * slip, self.most) if self.end == "spring" else np.zeros(STATES)
        return slip, strain, *self.bond.at(self.length, slip, strain)


@dataclass(frozen=True)
class Branch:
    """States of a leg in order of a growing opening: opening along the fibre, strain at the crack, far-end states of
    the driving and of the following side, and the share by which the following side has unloaded; arrays."""

    opening: Any
    strain: Any
    driver: tuple[Any, Any]
    follower: tuple[Any, Any]
    share: Any


@dataclass(frozen=True)
class Leg:
    """A leg across the crack: bonded lengths above and below it that carry one force."""

    upper: Length
    lower: Length

    @cached_property
    def driver_is_upper(self) -> bool:
        """Whether the upper side is the one that comes to its largest force first."""
        return float(np.max(self.upper.states[3])) <= float(np.max(self.lower.states[3]))

    @cached_property
    def path(self) -> Branch:
        """All states in path order; snap-backs included."""
        one, two = (self.upper, self.lower) if self.driver_is_upper else (self.lower, self.upper)
        slip_0, strain_0, slip, strain = one.states
        reached = np.maximum.accumulate(strain)
        to = int(np.argmax(two.states[3])) + 1
        rising = np.maximum.accumulate(two.states[3][:to])
        far = tuple(np.interp(reached, rising, part[:to]) for part in two.states[:2])
        share = np.where(reached > 0.0, strain / np.where(reached > 0.0, reached, 1.0), 1.0)
        other = np.interp(reached, rising, two.states[2][:to])
        return Branch(slip + share * other, strain, (slip_0, strain_0), (far[0], far[1]), share)

    @cached_property
    def fold(self) -> int:
        """State at which the leg debonds under a growing opening, -1 where it never does: its first largest force, or a
        snap-back before it. What lies behind is unstable in a beam, where the load falls at once."""
        p = self.path
        falls = [np.flatnonzero(np.diff(line) < -1e-12) for line in (p.opening, p.strain)]
        return min((int(f[0]) for f in falls if len(f)), default=-1)

    @property
    def opening_at_fold(self) -> float:
        """Opening at debonding, mm; infinite where none comes."""
        return float(self.path.opening[self.fold]) if self.fold >= 0 else np.inf

    def bonded(self) -> Branch:
        """States up to debonding."""
        return _cut(self.path, slice(0, self.fold + 1 if self.fold >= 0 else None))

    def debonded(self) -> Branch:
        """States of a growing opening after debonding; the bonded ones where none comes.

        Behind a snap-back its rising part; else what the leg holds once its bond has gone, from the least force on.
        """
        if self.fold < 0:
            return self.bonded()
        after = _cut(self.path, slice(self.fold, None))
        back = np.flatnonzero(np.diff(after.opening) < 0.0)
        start = int(np.argmin(after.opening[back[0] :])) + int(back[0]) if len(back) else int(np.argmin(after.strain))
        return _cut(after, slice(start, None))


def _cut(branch: Branch, rows: slice) -> Branch:
    b = branch
    return Branch(
        b.opening[rows], b.strain[rows], (b.driver[0][rows], b.driver[1][rows]),
        (b.follower[0][rows], b.follower[1][rows]), b.share[rows],
    )  # fmt: skip


def at_opening(branch: Branch, opening: Any) -> Branch:
    """The branch at given openings, held at its ends.

    Far ends feel the crack in powers of ten, so their states are interpolated by their logarithms.
    """
    order = np.log(np.maximum(np.maximum.accumulate(branch.opening), TINY))
    at = np.log(np.maximum(opening, TINY))
    far = [np.exp(np.interp(at, order, np.log(np.maximum(part, TINY)))) for part in (*branch.driver, *branch.follower)]
    strain, share = (np.interp(at, order, part) for part in (branch.strain, branch.share))
    return Branch(opening, strain, (far[0], far[1]), (far[2], far[3]), share)


def strain_along(leg: Leg, branch: Branch, distance: float) -> Any:
    """Strain at a distance from the crack (mm along the fibre, positive upwards) for the states of a branch."""
    side = leg.upper if distance >= 0.0 else leg.lower
    from_end = side.length - abs(distance)
    if from_end < 0.0:
        return np.zeros(len(branch.strain))
    if (distance >= 0.0) == leg.driver_is_upper:
        return side.bond.at(from_end, *branch.driver)[1]
    return side.bond.at(from_end, *branch.follower)[1] * branch.share


@dataclass(frozen=True)
class Bar:
    """A stirrup leg with constant bond stress `tau` (MPa) and a yield plateau, N, mm, MPa.

    Elastic: stress falls from the crack by 4 tau/diameter a mm, so an opening along the bar of sigma^2 d/(4 E tau)
    belongs to the stress sigma (equilibrium, slips of both sides). At yielding a band of strain `plateau` spreads
    from the crack, (opening - opening at yield)/(2 plateau) to each side, while the stress stays.
    """

    diameter: float
    f_y: float
    E_s: float
    tau: float
    plateau: float

    def stress(self, opening: Any) -> Any:
        """Stress at the crack, MPa."""
        return np.minimum(np.sqrt(4.0 * self.E_s * self.tau * np.maximum(opening, 0.0) / self.diameter), self.f_y)

    def strain(self, opening: Any, distance: float, gauge_length: float) -> Any:
        """Mean strain of a gauge whose middle is at a distance from the crack along the bar."""
        at_yield = self.f_y**2 * self.diameter / (4.0 * self.E_s * self.tau)
        band = np.maximum(np.asarray(opening) - at_yield, 0.0) / (2.0 * self.plateau)
        in_band = np.clip((band - abs(distance)) / gauge_length + 0.5, 0.0, 1.0)
        fallen = 4.0 * self.tau * np.maximum(abs(distance) - band, 0.0) / self.diameter
        elastic = np.maximum(self.stress(opening) - fallen, 0.0) / self.E_s
        return in_band * self.plateau + (1.0 - in_band) * elastic
