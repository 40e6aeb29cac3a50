"""Strain of a strip where a crack crosses it, from gauges beside the crack: bounds by equilibrium of the bond.

Along the fibre, K d(eps)/dx = tau(slip) and d(slip)/dx = eps towards the crack, with K = E_f t_f. So away from the
crack the strain falls, at most by tau_max/K a millimetre and not at all where the bond has gone. Derived in
docs/theory/strain-at-the-crack.md. N, mm, MPa; strains as ratios.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Law:
    """Bond law with a root rise to `tau_max` [MPa] at `slip_0` [mm] and an exponential fall, area `G_f` [N/mm].

    The simplified law of Lu and others 2005; numbers or arrays of draws of one length. Its tail matters here: with a
    law that ends, a gauge would take bond for gone that still holds a little.
    """

    tau_max: Any
    slip_0: Any
    G_f: Any

    @property
    def _rise(self) -> Any:
        return 2.0 / 3.0 * self.tau_max * self.slip_0

    @property
    def _decay(self) -> Any:
        """Slip [mm] over which the fall sinks to 1/e."""
        return np.maximum(self.G_f - self._rise, 0.05 * self.G_f) / self.tau_max

    def most(self, slip: Any) -> Any:
        """Largest bond stress at that slip and all larger ones, MPa."""
        return self.tau_max * np.exp(-np.maximum(slip - self.slip_0, 0.0) / self._decay)

    def left(self, slip: Any) -> Any:
        """Energy still in the bond beyond a slip, N/mm."""
        fall = self.most(slip) * self._decay
        return fall + self._rise * (1.0 - np.minimum(slip / self.slip_0, 1.0) ** 1.5)

    def reached(self, energy: Any) -> Any:
        """Slip [mm] by which the bond has taken up that energy [N/mm]; far out where it is G_f or more."""
        e, fall = np.maximum(energy, 0.0), self.tau_max * self._decay
        rising = self.slip_0 * np.minimum(e / self._rise, 1.0) ** (2.0 / 3.0)
        share = np.clip((e - self._rise) / fall, 0.0, 1.0 - 1e-6)
        return rising - self._decay * np.log1p(-share)


@dataclass(frozen=True)
class LegGauges:
    """Gauges of one leg, each array (gauges,): places x along the fibre with the crack at 0, lengths, readings.

    `slip` is a lower bound of the slip at each gauge from the strains further out (mm); `peak` the largest strain each
    held so far. `ends` are the bonded lengths (mm) below and above the crack to a free end, infinite where the leg is
    held there. `gone`: every gauge has fallen, so the side of the shorter end slips as a whole. `run` is how far (mm
    along the fibre) the crack climbs over half the width: the other fibres of the leg have ends that much longer.
    """

    place: Any
    length: Any
    strain: Any
    slip: Any
    peak: Any
    ends: tuple[float, float]
    gone: bool = False
    run: float = 0.0

    @property
    def slack(self) -> float:
        """Share of the width, up to a half, maybe in another state than the gauge line: run over the shorter end."""
        return min(0.5, self.run / max(min(self.ends), 1e-9))


def mean_distance(place: Any, length: Any) -> Any:
    """Mean distance [mm] of the points under a gauge from the crack at 0: |x| beside it, less where it lies on it."""
    x, half = np.abs(place), 0.5 * np.asarray(length, dtype=float)
    return np.where(x >= half, x, (x**2 + half**2) / np.maximum(2.0 * half, 1e-12))


def outer_slip(place: Any, held: Any) -> Any:
    """Least slip [mm] at each gauge from the strains further from the crack on its side; `held` (gauges, times).

    Slip grows towards the crack by the strain, and between two gauges the strain is at least that of the outer one.
    The largest over time counts, for slip does not come back while a crack opens. Returns (gauges,).
    """
    x, strain = np.asarray(place, dtype=float), np.maximum(np.asarray(held, dtype=float), 0.0)
    found = np.zeros(x.size)
    for side in (x < 0.0, x >= 0.0):
        order = np.flatnonzero(side)[np.argsort(-np.abs(x[side]))]  # the outermost first
        gone = np.zeros(strain.shape[1])
        for outer, inner in pairwise(order):
            gone = gone + strain[outer] * (abs(x[outer]) - abs(x[inner]))
            found[inner] = gone.max()
    return found


def bounds(
    leg: LegGauges, law: Law, stiffness: Any, *, largest: float, shift: Any = 0.0, gain: Any = 1.0, zero: Any = 0.0,
    proof: Law | None = None,
) -> tuple[Any, Any]:  # fmt: skip
    """Least and largest strain of the leg at the crack, each (draws,).

    `stiffness` K of a unit width, N/mm; `largest` the strain at rupture; `shift` of the crack along the fibre, mm;
    `gain` (draws,) times the readings and `zero` (gauges, draws) added to them. The least is the largest reading. The
    largest is the least of, over the gauges at distance a with slip s or more: reading + most(s) a/K; sqrt(reading^2 +
    2 left(s)/K); and for a free end at length l: tau_max l/K and sqrt(2 G_f/K). Of a gauge that the crack may cross
    nothing is known of the slip, for it may belong to either side. `proof` is the law by which a slip proves the bond
    torn, where that is not `law`: one that holds longer proves less.
    """
    proof = law if proof is None else proof
    gain = np.atleast_1d(gain)
    eps = np.asarray(leg.strain, dtype=float)[:, None] * gain + zero
    x = np.asarray(leg.place, dtype=float)[:, None] - np.atleast_1d(shift)
    length = np.asarray(leg.length, dtype=float)[:, None]
    a, beside = mean_distance(x, length), np.abs(x) > length / 2.0
    low = np.maximum(eps.max(axis=0), 0.0)
    most = np.full(low.shape, largest)  # of the bond alone, whatever the gauges read
    for ends in leg.ends:
        if np.isfinite(ends):
            most = np.minimum(most, np.minimum(law.tau_max * ends / stiffness, np.sqrt(2.0 * law.G_f / stiffness)))
    high = most
    for ends, side in zip(leg.ends, (x < 0.0, x >= 0.0), strict=True):
        slip = np.asarray(leg.slip, dtype=float)[:, None] * gain
        if np.isfinite(ends):
            peak = np.maximum(leg.peak, 0.0)[:, None] * gain
            slip = np.maximum(slip, proof.reached(0.5 * stiffness * peak**2))
        slip = np.where(beside, slip, 0.0)
        slope = np.maximum(eps, 0.0) + proof.most(slip) * a / stiffness
        rest = np.minimum(proof.left(slip), law.left(0.0))
        energy = np.sqrt(np.maximum(eps, 0.0) ** 2 + 2.0 * rest / stiffness)
        high = np.minimum(high, np.where(side, np.minimum(slope, energy), np.inf).min(axis=0))
    if leg.gone:
        high = np.minimum(high, _slipping(leg, np.maximum(eps, 0.0), a, x, high))
        return low, np.maximum(high + leg.slack * (most - high), low)
    return low, np.maximum(high, low)


def _slipping(leg: LegGauges, eps: Any, a: Any, x: Any, high: Any) -> Any:
    """Largest strain (draws,) of a leg whose shorter end slips as a whole; `high` where no gauge is on that side.

    There the bond stress falls with slip, so it is least next to the crack: a gauge whose length l - a beyond it holds
    K eps leaves at most eps l/(l - a).
    """
    below = leg.ends[0] <= leg.ends[1]
    end = min(leg.ends)
    side = (x < 0.0) if below else (x >= 0.0)
    beyond = end - a
    return np.minimum(np.where(side & (beyond > 0.0), eps * end / np.maximum(beyond, 1e-9), np.inf).min(axis=0), high)
