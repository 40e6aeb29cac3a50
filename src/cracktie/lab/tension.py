"""Tension coupons: FRP strips (per width first, then by thickness) and steel bars."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.derived import Line, regression

CHORD = (1000e-6, 3000e-6)
BRITTLE = 6000e-6
"""Strains of the usual chord, and the ultimate strain below which it does not fit (ASTM D3039/D3039M, from memory)."""


@dataclass(frozen=True)
class FrpCoupon:
    """One FRP coupon, free of any thickness convention.

    `force_per_width` N/mm, `stiffness_per_width` N/mm (both per mm of width), `ultimate_strain` as a ratio and
    whether that was `measured` or is force over stiffness.
    """

    force_per_width: float
    stiffness_per_width: float
    ultimate_strain: float
    measured: bool
    chord: tuple[float, float]

    def modulus(self, thickness: float) -> float:
        """Modulus in MPa for a stated thickness in mm (say with it: net fibre or gross laminate)."""
        return self.stiffness_per_width / _checked(thickness, "thickness")

    def strength(self, thickness: float) -> float:
        """Strength in MPa for a stated thickness in mm (say with it: net fibre or gross laminate)."""
        return self.force_per_width / _checked(thickness, "thickness")


@dataclass(frozen=True)
class BarCoupon:
    """One bar: modulus with its regression, proof or yield stress, strength, strain at maximum force, toe shift.

    Stresses in MPa on the stated area; strains are ratios. `upper_yield` is None without a visible yield drop.
    """

    modulus: Line
    proof_stress: float
    upper_yield: float | None
    strength: float
    strain_at_max: float
    toe: float


def frp_coupon(
    strain: Any,
    force: Any,
    *,
    width: float,
    chord: tuple[float, float] = CHORD,
    strain_to_failure: bool = False,
) -> FrpCoupon:
    """Force and chord stiffness per width, the form of ASTM D7565/D7565M with D3039/D3039M (from memory).

    `strain` ratio, `force` N, `width` mm. Coupons that fail below 6000e-6 take a chord of 25 to 50 % of the
    ultimate strain instead. Ultimate strain is measured only where the extensometer stayed on
    (`strain_to_failure`), else it is force over stiffness, for that choice of the chord too. Raises
    `ModelInputError` where the record does not cover the chord.
    """
    e, f = _pairs(strain, force)
    top = int(np.argmax(f))
    peak = float(f[top]) / _checked(width, "width")
    rising = slice(0, top + 1)

    def stiffness(ends: tuple[float, float]) -> float:
        low, high = (_force_at(e[rising], f[rising], level) for level in ends)
        return (high - low) / (width * (ends[1] - ends[0]))

    if chord == CHORD:
        likely = float(e[top]) if strain_to_failure else peak / stiffness(chord)
        if likely < BRITTLE:
            chord = (0.25 * likely, 0.50 * likely)
    K = stiffness(chord)
    return FrpCoupon(peak, K, float(e[top]) if strain_to_failure else peak / K, strain_to_failure, chord)


def bar_coupon(
    strain: Any, stress: Any, *, offset: float = 0.002, window: tuple[float, float] = (0.1, 0.4)
) -> BarCoupon:
    """Proof stress by the offset line, strength and total strain at maximum force (ISO 6892-1 form, from memory).

    The modulus is a regression over `window` times the proof stress (own choice of window), found by repeating until
    both agree. The strain where that line meets zero stress is the toe and is taken off.
    """
    e, s = _pairs(strain, stress)
    top = int(np.argmax(s))
    strength = float(s[top])
    proof = 0.8 * strength
    for _ in range(50):
        inside = np.flatnonzero((s[: top + 1] >= window[0] * proof) & (s[: top + 1] <= window[1] * proof))
        first_run = inside[: int(np.argmax(np.diff(inside) > 1)) + 1] if (np.diff(inside) > 1).any() else inside
        line = regression(e[first_run], s[first_run])
        toe = float(e[first_run].mean() - s[first_run].mean() / line.slope)
        new = _crossing(e[: top + 1] - toe, s[: top + 1], line.slope, offset)
        if abs(new - proof) <= 1e-9 * strength:
            break
        proof = new
    return BarCoupon(line, new, _upper_yield(e - toe, s, top, new), strength, float(e[top]) - toe, toe)


def yield_strain(proof_stress: float, modulus: float, *, rounded: bool) -> tuple[float, float]:
    """Strains that bound 'on the knee' and 'yielded'.

    With a sharp yield plateau both are R/E. For rounded bars the stress at R/E is still 8 to 17 % below the proof
    stress: yielded is R/E + 0.002, and between the two the stress comes from the bar's own curve.
    """
    knee = _checked(proof_stress, "proof stress") / _checked(modulus, "modulus")
    return knee, knee + 0.002 if rounded else knee


def _crossing(e: Any, s: Any, slope: float, offset: float) -> float:
    difference = s - slope * (e - offset)
    after = np.flatnonzero((difference <= 0.0) & (e > offset))
    if after.size == 0:
        raise ModelInputError(
            f"the curve never meets the {100 * offset:g} % offset line; it ends at strain {e[-1]:.4g}"
        )
    j = int(after[0])
    share = difference[j - 1] / (difference[j - 1] - difference[j])
    return float(s[j - 1] + share * (s[j] - s[j - 1]))


def _upper_yield(e: Any, s: Any, top: int, proof: float) -> float | None:
    """The first maximum followed by a fall of more than 1 % before 2 % strain, in the region of the proof stress."""
    early = np.flatnonzero((e[: top + 1] < 0.02) & (s[: top + 1] > 0.9 * proof))
    if early.size < 3:
        return None
    part = s[early]
    best = np.maximum.accumulate(part)
    fallen = np.flatnonzero(part < 0.99 * best)
    return float(best[fallen[0]]) if fallen.size else None


def _force_at(e: Any, f: Any, level: float) -> float:
    above = np.flatnonzero(e >= level)
    if above.size == 0 or above[0] == 0:
        raise ModelInputError(
            f"the record runs from {e.min() * 1e6:.0f} to {e.max() * 1e6:.0f} um/m and does not cover "
            f"{level * 1e6:.0f} um/m"
        )
    j = int(above[0])
    share = (level - e[j - 1]) / (e[j] - e[j - 1])
    return float(f[j - 1] + share * (f[j] - f[j - 1]))


def _pairs(strain: Any, load: Any) -> tuple[Any, Any]:
    e, f = np.asarray(strain, dtype=float), np.asarray(load, dtype=float)
    if e.shape != f.shape:
        raise ModelInputError(f"{e.size} strains and {f.size} forces; one each is needed")
    keep = np.isfinite(e) & np.isfinite(f)
    if keep.sum() < 10:
        raise ModelInputError(f"{int(keep.sum())} readings with strain and force; at least 10 are needed")
    return e[keep], f[keep]


def _checked(value: float, name: str) -> float:
    if not value > 0.0 or math.isinf(value):
        raise ModelInputError(f"{name} is {value}; a positive number is needed")
    return value
