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
DIAGONAL = (25.0, 50.0)
"""Degrees to the axis between which diagonal cracks of beams lie: common experience, no source."""
U_WHOLE = 1.0 / math.sqrt(6.0)
"""Standard uncertainty of the whole number of bars that a run of any length and place crosses: `Cotangent.count`."""


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


@dataclass(frozen=True)
class Cotangent:
    """cot(theta) of a diagonal crack nobody has seen: mean, standard deviation and bounds."""

    mean: float
    deviation: float
    least: float
    most: float

    @classmethod
    def between(cls, shear_span: float, height: float) -> Cotangent:
        """Any angle within `DIAGONAL` alike, none flatter than from support to load (lengths alike).

        Over an angle spread evenly from a to b, cot has the mean ln(sin b/sin a)/(b - a), its square
        (cot a - cot b)/(b - a) - 1 (own integrals).
        """
        flat, steep = (math.radians(angle) for angle in DIAGONAL)
        flat = max(flat, math.atan2(height, shear_span))
        most, least = 1.0 / math.tan(flat), 1.0 / math.tan(max(flat, steep))
        if flat >= steep:
            return cls(most, 0.0, most, most)
        mean = math.log(math.sin(steep) / math.sin(flat)) / (steep - flat)
        square = (most - least) / (steep - flat) - 1.0
        return cls(mean, math.sqrt(square - mean**2), least, most)

    def count(self, cot: Any, whole: Any, *, height: float, spacing: float, alpha: float = 90.0) -> Any:
        """Bars crossed between heights `height` apart: height (cot theta + cot alpha)/spacing and an error `whole`.

        The number is the whole one below or above that, by the place of the crack. Over places and runs its difference
        from the run is triangular from -1 to 1, `U_WHOLE` (own derivation); it never leaves the bounds of the angles.
        """
        per_cot, leaning = height / spacing, 1.0 / math.tan(math.radians(alpha)) if alpha != 90.0 else 0.0
        least, most = (per_cot * (c + leaning) for c in (self.least, self.most))
        run = per_cot * (np.clip(cot, self.least, self.most) + leaning)
        return np.clip(run + whole, math.floor(least), math.ceil(most))


def neighbours(stress: Sequence[float | None]) -> Any:
    """Weights (m + 1, m) by which stresses of m bars in a row add up where 0 to m neighbours are crossed.

    The critical crack is the widest, so of all neighbours it crosses those that carry most. A bar without a gauge
    (None) counts as the mean of the gauged ones among them.
    """
    known = np.array([s is not None for s in stress])
    value = np.array([0.0 if s is None else float(s) for s in stress])
    size = value.size
    weights = np.zeros((size + 1, size))
    for number in range(1, size + 1):
        rows = []
        for first in range(size - number + 1):
            inside = known.copy()
            inside[:first] = inside[first + number :] = False
            if inside.any():
                rows.append(inside * (number / inside.sum()))
        weights[number] = max(rows, key=lambda row: float(row @ value))
    return weights


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


def crack_force(s: Any, strain: Any, angle: Any, *, thickness: float, modulus: float, beta: float = 90.0) -> float:
    """Vertical force in N of a continuous sheet on ONE face from the strain along the crack itself.

    t E sin(beta) times the integral of eps sin(theta + beta) over the distance `s` (mm, ascending) along the crack,
    trapezoids: a length ds of crack is crossed by fibres ds sin(theta + beta) wide. `angle` theta in degrees at each s.
    On a straight crack this is `sheet_force`, as dz = ds sin(theta).
    """
    length, eps = np.asarray(s, dtype=float), np.asarray(strain, dtype=float)
    if length.size < 2 or (np.diff(length) <= 0.0).any():
        raise ModelInputError("a strain profile needs at least two places in ascending order")
    b = math.radians(beta)
    density = eps * np.sin(np.radians(np.asarray(angle, dtype=float)) + b)
    return thickness * modulus * math.sin(b) * float((0.5 * (density[1:] + density[:-1]) * np.diff(length)).sum())


def fibre_weights(
    x: Sequence[float], z: Sequence[float], nodes: Sequence[float], *, edges: tuple[float, float], angle: float,
    beta: float = 90.0,
) -> tuple[Any, Any]:  # fmt: skip
    """Weights in mm of the strains where a crack meets the lower edge, the `nodes` and the upper edge: (nodes + 2,).

    t E times their sum over the strains is the vertical force of a sheet on ONE face, the strain straight along the
    crack between the nodes (distances from the lower end of the line, ascending): sin(beta) times the integral of
    eps (sin(beta) dX + cos(beta) dZ), X the way towards the load. Steep pieces are crossed by few vertical fibres and
    flat ones by many, so one mean angle would not do. A line that ends short of an edge (heights z) goes on at `angle`
    degrees. The second weights are those of a change of cot(theta) by 1 all along.
    """
    xs, zs = np.asarray(x, dtype=float), np.asarray(z, dtype=float)
    if zs[0] > zs[-1]:
        xs, zs = xs[::-1], zs[::-1]
    run = (xs - xs[0]) * (1.0 if xs[-1] >= xs[0] else -1.0)
    s = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(xs), np.diff(zs)))))
    t, b = math.radians(min(max(angle, 10.0), 90.0)), math.radians(beta)
    short, over = max(zs[0] - edges[0], 0.0), max(edges[1] - zs[-1], 0.0)
    s = np.concatenate(([-short / math.sin(t)], s, [s[-1] + over / math.sin(t)]))
    run = np.concatenate(([-short / math.tan(t)], run, [run[-1] + over / math.tan(t)]))
    zs = np.concatenate(([zs[0] - short], zs, [zs[-1] + over]))
    start, end = (_first_at(s, zs, edge) for edge in edges)
    places = np.array([start, *np.clip(nodes, start, end), end])
    grid = np.unique(np.concatenate((places, s[(s > start) & (s < end)])))
    hats = np.stack([np.interp(grid, places, row) for row in np.eye(places.size)])
    hats = 0.5 * (hats[:, 1:] + hats[:, :-1])
    across, up = np.diff(np.interp(grid, s, run)), np.diff(np.interp(grid, s, zs))
    return hats @ (math.sin(b) * (math.sin(b) * across + math.cos(b) * up)), hats @ up * math.sin(b) ** 2


def _first_at(s: Any, z: Any, height: float) -> float:
    """Distance along a line from its lower end at which it first reaches a height."""
    j = int(np.argmax(z >= height - 1e-9))
    if j == 0:
        return float(s[0])
    return float(s[j - 1] + (height - z[j - 1]) / (z[j] - z[j - 1]) * (s[j] - s[j - 1]))


def angles_along(x: Sequence[float], z: Sequence[float], s: Any) -> Any:
    """Angle to the axis in degrees of a crack line at distances `s` (mm) along it from its lower end, shaped as `s`.

    0 to 180; above 90 where the line leans back. Beyond its ends that of its last piece.
    """
    xs, zs = np.asarray(x, dtype=float), np.asarray(z, dtype=float)
    if zs[0] > zs[-1]:
        xs, zs = xs[::-1], zs[::-1]
    dx, dz = np.diff(xs), np.diff(zs)
    towards = 1.0 if xs[-1] >= xs[0] else -1.0
    length = np.hypot(dx, dz)
    piece = np.clip(np.searchsorted(np.cumsum(length), np.asarray(s, dtype=float)), 0, len(dx) - 1)
    return np.degrees(np.arctan2(dz, towards * dx))[piece]


def bar_stress(
    strain: Any, *, f_y: Any, E_s: Any, rounded: bool, f_u: float | None = None, A_gt: float | None = None,
    curves: Sequence[tuple[Any, Any]] = (), of_curves: tuple[float, float] | None = None, largest: Any = None,
) -> Any:  # fmt: skip
    """Stress in MPa of a bar from its strain, on its own curve (compression alike); f_y and E_s may be draws.

    With `curves` (strains and stresses of the bar's coupons, both from 0) it is the mean of theirs, stretched to f_y
    and E_s from those `of_curves`; the last stress of a curve holds beyond it. Without them, with a plateau: E eps up
    to f_y, then f_y (no hardening: a plateau carries any strain of a gauge). Rounded: the curve of Ramberg and Osgood,
    eps = s/E + 0.002 (s/f_y)^n, through the proof stress f_y and the strength f_u at the total strain A_gt; at f_y/E
    its stress is still well below f_y, so f_y there would take too much. `largest` is the largest tensile strain the
    bar has had: below it the bar unloads and reloads along E_s, never beyond f_y in compression. Raises
    `ModelInputError` where a rounded bar lacks f_u or A_gt.
    """
    eps = np.asarray(strain, dtype=float)
    if largest is not None:
        top = np.maximum(np.asarray(largest, dtype=float), eps)
        first = bar_stress(
            top, f_y=f_y, E_s=E_s, rounded=rounded, f_u=f_u, A_gt=A_gt, curves=curves, of_curves=of_curves
        )
        return np.maximum(first - E_s * (top - eps), -np.asarray(f_y, dtype=float))
    e = np.abs(eps)
    if curves:
        proof, modulus = of_curves or (f_y, E_s)
        stretch = f_y / proof
        at = e * E_s / modulus / stretch
        return np.sign(eps) * stretch * np.mean([np.interp(at, x, s) for x, s in curves], axis=0)
    if not rounded:
        return np.sign(eps) * np.minimum(E_s * e, f_y)
    return np.sign(eps) * _ramberg_osgood(e, f_y, E_s, exponent(f_y=f_y, E_s=E_s, f_u=f_u, A_gt=A_gt))


def _ramberg_osgood(strain: Any, f_y: Any, E_s: Any, n: Any) -> Any:
    """Stress on eps = s/E + 0.002 (s/f_y)^n by Newton's method from above: convex, so it never overshoots."""
    s = np.minimum(E_s * strain, f_y * (strain / PROOF) ** (1.0 / n))
    for _ in range(50):
        plastic = PROOF * (s / f_y) ** n
        step = (s / E_s + plastic - strain) / (1.0 / E_s + n * plastic / np.maximum(s, 1e-9))
        s = np.maximum(s - step, 0.0)
        if np.all(np.abs(step) < 1e-9 * np.asarray(f_y)):
            break
    return s


def exponent(*, f_y: Any, E_s: Any, f_u: float | None, A_gt: float | None) -> Any:
    """Exponent n of a Ramberg-Osgood curve through the proof stress and the strength at A_gt."""
    if f_u is None or A_gt is None:
        raise ModelInputError(
            "a bar with a rounded curve needs f_u and A_gt from its coupons to turn strain into stress"
        )
    plastic = A_gt - f_u / np.asarray(E_s, dtype=float)
    proof = np.asarray(f_y, dtype=float)
    if not (np.median(f_u / proof) > 1.0 and np.median(plastic) > PROOF):
        raise ModelInputError(
            f"f_u = {f_u:g} MPa at A_gt = {A_gt:g} makes no rounded curve above f_y = {float(np.median(proof)):g} MPa"
        )
    # a draw with f_y at the strength or above is a curve that stays almost straight up to it
    return np.log(np.maximum(plastic, 1.001 * PROOF) / PROOF) / np.log(np.maximum(f_u / proof, 1.001))


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
