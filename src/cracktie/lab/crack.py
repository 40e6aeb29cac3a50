"""Geometry of a digitised diagonal crack, and forces of the fibres and bars that cross it; N, mm, MPa."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError

PROOF = 0.002
"""Plastic strain of the proof stress."""


@dataclass(frozen=True)
class Inclination:
    """Angle to the axis in degrees: length-weighted mean and standard deviation over the pieces; length in mm."""

    angle: float
    deviation: float
    length: float


def inclination(x: Sequence[float], z: Sequence[float]) -> Inclination:
    """Length-weighted mean angle of the pieces of a line (any direction of travel), 0 to 90 degrees.

    A piece of no length counts nothing. Raises `ModelInputError` for a line without length.
    """
    dx, dz = np.diff(np.asarray(x, dtype=float)), np.diff(np.asarray(z, dtype=float))
    length = np.hypot(dx, dz)
    total = float(length.sum())
    if not total > 0.0:
        raise ModelInputError("the crack line has no length; at least two different points are needed")
    angle = np.degrees(np.arctan2(np.abs(dz), np.abs(dx)))
    mean = float((angle * length).sum() / total)
    deviation = math.sqrt(float((length * (angle - mean) ** 2).sum() / total))
    return Inclination(mean, deviation, total)


def between(x: Sequence[float], z: Sequence[float], low: float, high: float) -> tuple[list[float], list[float]]:
    """The part of a line between two heights, cut where it crosses them; empty where it lies outside."""
    ends: list[tuple[float, float]] = []
    for x1, z1, x2, z2 in zip(x, z, x[1:], z[1:], strict=False):
        if min(z1, z2) > high or max(z1, z2) < low:
            continue
        for share in (0.0, 1.0):
            height = min(max((z1, z2)[share > 0.5], low), high)
            part = share if z1 == z2 else (height - z1) / (z2 - z1)
            point = (float(x1 + part * (x2 - x1)), float(height))
            if not ends or point != ends[-1]:
                ends.append(point)
    return [e[0] for e in ends], [e[1] for e in ends]


def height_at(x: Sequence[float], z: Sequence[float], place: float) -> float | None:
    """z where a crack line crosses the vertical at `place` (its first crossing from the lower end); None outside it."""
    xs, zs = np.asarray(x, dtype=float), np.asarray(z, dtype=float)
    if zs[0] > zs[-1]:
        xs, zs = xs[::-1], zs[::-1]
    for i in range(xs.size - 1):
        low, high = sorted((xs[i], xs[i + 1]))
        if low <= place <= high and high > low:
            return float(zs[i] + (place - xs[i]) / (xs[i + 1] - xs[i]) * (zs[i + 1] - zs[i]))
    return None


def strip_force(strain: Any, *, width: float, thickness: float, modulus: float, beta: float = 90.0) -> Any:
    """Vertical force in N of ONE leg: thickness (all plies) x width across the fibres x modulus x strain x sin beta."""
    return thickness * width * modulus * np.asarray(strain, dtype=float) * math.sin(math.radians(beta))


def sheet_force(
    z: Sequence[float], strain: Sequence[float], *, thickness: float, modulus: float, theta: float, beta: float = 90.0
) -> float:
    """Vertical force in N of a continuous sheet on ONE face across a crack at `theta` degrees.

    t E (cot theta + cot beta) sin^2 beta times the integral of the strain along the fibres over the height z, by
    trapezoids: fibres counted across the crack (own derivation). `z` ascending, mm.
    """
    heights = np.asarray(z, dtype=float)
    if heights.size < 2 or (np.diff(heights) <= 0.0).any():
        raise ModelInputError("a strain profile needs at least two heights in ascending order")
    t, b = math.radians(theta), math.radians(beta)
    count = (1.0 / math.tan(t) + 1.0 / math.tan(b)) * math.sin(b) ** 2
    eps = np.asarray(strain, dtype=float)
    return thickness * modulus * count * float((0.5 * (eps[1:] + eps[:-1]) * np.diff(heights)).sum())


def bar_stress(
    strain: Any, *, f_y: float, E_s: float, rounded: bool, f_u: float | None = None, A_gt: float | None = None
) -> Any:
    """Stress in MPa of a bar from its strain, on its own curve (first loading; compression alike).

    With a sharp plateau: E eps up to f_y, then f_y (no hardening: a plateau carries any strain of a gauge). Rounded:
    the curve of Ramberg and Osgood, eps = s/E + 0.002 (s/f_y)^n, through the proof stress f_y and the strength f_u at
    the total strain A_gt; at f_y/E its stress is still well below f_y, so f_y there would take too much. Raises
    `ModelInputError` where a rounded bar lacks f_u or A_gt.
    """
    e = np.abs(np.asarray(strain, dtype=float))
    if not rounded:
        return np.sign(strain) * np.minimum(E_s * e, f_y)
    n = exponent(f_y=f_y, E_s=E_s, f_u=f_u, A_gt=A_gt)
    grid = np.linspace(0.0, float(f_u or f_y), 4001)
    curve = grid / E_s + PROOF * (grid / f_y) ** n
    return np.sign(strain) * np.interp(e, curve, grid)


def exponent(*, f_y: float, E_s: float, f_u: float | None, A_gt: float | None) -> float:
    """Exponent n of a Ramberg-Osgood curve through the proof stress and the strength at A_gt."""
    if f_u is None or A_gt is None:
        raise ModelInputError(
            "a bar with a rounded curve needs f_u and A_gt from its coupons to turn strain into stress"
        )
    plastic = A_gt - f_u / E_s
    if not (f_u > f_y and plastic > PROOF):
        raise ModelInputError(f"f_u = {f_u:g} MPa at A_gt = {A_gt:g} makes no rounded curve above f_y = {f_y:g} MPa")
    return math.log(plastic / PROOF) / math.log(f_u / f_y)


def shear_strain(first: Any, second: Any, *, length: tuple[float, float], direction: tuple[float, float]) -> Any:
    """Shear strain of a panel from the elongations (mm) of two gauges on its diagonals.

    eps(phi) = c + (k/2) cos 2 phi + (gamma/2) sin 2 phi; for a pair that mirrors (phi and 180 - phi) the mean strain
    and the cosine part cancel: gamma = 2 (eps_1 - eps_2)/(sin 2 phi_1 - sin 2 phi_2). Directions in degrees from the
    axis.
    """
    one, two = (math.radians(2.0 * d) for d in direction)
    if abs(math.cos(one) - math.cos(two)) > 0.05 or abs(math.sin(one) - math.sin(two)) < 0.5:
        raise ModelInputError(
            f"directions {direction[0]:g} and {direction[1]:g} deg are no diagonals; they must be phi and 180 - phi"
        )
    e1, e2 = (np.asarray(v, dtype=float) / g for v, g in zip((first, second), length, strict=True))
    return 2.0 * (e1 - e2) / (math.sin(one) - math.sin(two))
