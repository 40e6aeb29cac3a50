"""Quantities derived from channels: shear, net deflection, stiffness, energy, ductility."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.trail import Trail
from cracktie.mechanics.statics import SimpleBeam, shear, shear_influence


@dataclass(frozen=True)
class Shear:
    """Shear force at a section: total, and the part of the applied load alone (both arrays, N), with the trail."""

    total: Any
    applied: Any
    self_weight: float
    trail: Trail


@dataclass(frozen=True)
class Line:
    """Slope of a regression with its standard error, correlation squared and number of points."""

    slope: float
    u: float
    r2: float
    points: int


@dataclass(frozen=True)
class Work:
    """Energy under load over deflection: to the peak and to `fraction` of it afterwards (N mm), and deflections (mm).

    `deflection_after` and `energy_after` are None where the load never falls that far.
    """

    energy_peak: float
    deflection_peak: float
    energy_after: float | None
    deflection_after: float | None
    deflection_yield: float | None
    ductility: float | None


def shear_at_section(
    beam: SimpleBeam, x: float, loads: Sequence[tuple[float, Any]], *, rig_weight: float = 0.0, self_weight: bool = True
) -> Shear:
    """Shear in N at x mm for measured loads (place mm, values N positive down).

    `rig_weight` (N) is what rests on the beam but was zeroed out of the cell (spreader, plates); it is shared by
    the load points in equal parts. The self-weight is that of `beam`.
    """
    if not loads:
        raise ModelInputError("no load channel; at least one (place, values) is needed")
    applied = np.zeros(np.asarray(loads[0][1], dtype=float).shape)
    rig = 0.0
    for place, values in loads:
        influence = shear_influence(beam, x, place)
        applied = applied + influence * np.asarray(values, dtype=float)
        rig += influence * rig_weight / len(loads)
    own = float(shear(beam, x)) if self_weight else 0.0
    trail = Trail().add(
        "shear_at_section",
        {"x_mm": x, "rig_weight_N": rig_weight, "self_weight_N": own, "rig_part_N": rig},
        np.isfinite(applied),
    )
    return Shear(applied + rig + own, applied, own, trail)


def shear_from_reaction(beam: SimpleBeam, x: float, reaction: Any, *, side: str) -> Any:
    """Shear in N at x mm from a measured support reaction (N, zeroed under the beam's own weight).

    Valid between that support and the nearest load. The cell on the right gives minus the reaction.
    """
    if side not in ("left", "right"):
        raise ModelInputError(f"side is {side!r}; it is 'left' or 'right'")
    beam.check_place(x)
    return (1.0 if side == "left" else -1.0) * np.asarray(reaction, dtype=float) + shear(beam, x)


def net_deflection(at_load: Any, left_support: Any, right_support: Any, *, a: float, span: float) -> Any:
    """Deflection at `a` mm from the left support less the straight line between the settlements of both supports."""
    if not 0.0 <= a <= span or span <= 0.0:
        raise ModelInputError(f"place {a:g} mm is not inside the span of {span:g} mm")
    share = a / span
    return np.asarray(at_load, dtype=float) - (
        np.asarray(left_support, dtype=float) * (1.0 - share) + np.asarray(right_support, dtype=float) * share
    )


def two_faces(front: Any, back: Any, *, limit: float = 0.10) -> tuple[Any, float, bool]:
    """Mean of both faces, largest difference over the largest mean, and whether that exceeds `limit` (twist)."""
    f, b = np.asarray(front, dtype=float), np.asarray(back, dtype=float)
    mean = 0.5 * (f + b)
    largest = float(np.nanmax(np.abs(mean)))
    difference = float(np.nanmax(np.abs(f - b))) / largest if largest > 0.0 else 0.0
    return mean, difference, difference > limit


def stiffness(deflection: Any, load: Any, *, low: float, high: float) -> Line:
    """Slope of load over deflection on the first loading from `low` to `high` (loads), by least squares."""
    d, p = np.asarray(deflection, dtype=float), np.asarray(load, dtype=float)
    running = np.maximum.accumulate(np.where(np.isfinite(p), p, -np.inf))
    keep = np.isfinite(d) & np.isfinite(p) & (p >= low) & (p <= high) & (running <= high)
    return regression(d[keep], p[keep])


def regression(x: Any, y: Any) -> Line:
    """Straight line by least squares; `ModelInputError` for fewer than three points or equal abscissae."""
    a, b = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if a.size < 3 or np.ptp(a) == 0.0:
        raise ModelInputError(f"{a.size} points do not make a regression line; at least 3 with different x are needed")
    xm, ym = a - a.mean(), b - b.mean()
    slope = float(xm @ ym / (xm @ xm))
    rest = float(((ym - slope * xm) ** 2).sum())
    total = float(ym @ ym)
    u = math.sqrt(rest / (a.size - 2) / float(xm @ xm))
    return Line(slope, u, 1.0 - rest / total if total > 0.0 else 1.0, int(a.size))


def work(deflection: Any, load: Any, *, fraction: float = 0.85, yield_share: float = 0.75) -> Work:
    """Energy by trapezoids on raw readings, and ductility.

    The yield-like deflection is where the secant through `yield_share` of the peak reaches the peak (75 %: the
    Park-type definition, from memory); it misleads for shear failures, so show the other deflections with it.
    """
    d, p = np.asarray(deflection, dtype=float), np.asarray(load, dtype=float)
    keep = np.isfinite(d) & np.isfinite(p)
    d, p = d[keep], p[keep]
    if p.size < 3:
        raise ModelInputError(f"{p.size} readings with load and deflection; at least 3 are needed")
    energy = np.concatenate(([0.0], np.cumsum(0.5 * (p[1:] + p[:-1]) * np.diff(d))))
    top = int(np.argmax(p))
    level = fraction * float(p[top])
    below = np.flatnonzero(p[top:] <= level)
    end_d = end_w = None
    if below.size:
        j = top + int(below[0])
        share = (p[j - 1] - level) / (p[j - 1] - p[j])
        end_d = float(d[j - 1] + share * (d[j] - d[j - 1]))
        end_w = float(energy[j - 1] + 0.5 * (p[j - 1] + level) * (end_d - d[j - 1]))
    at_yield = _yield_like(d[: top + 1], p[: top + 1], yield_share)
    ductility = end_d / at_yield if end_d is not None and at_yield else None
    return Work(float(energy[top]), float(d[top]), end_w, end_d, at_yield, ductility)


def _yield_like(d: Any, p: Any, share: float) -> float | None:
    level = share * float(p[-1])
    j = int(np.flatnonzero(p >= level)[0])
    if j == 0:
        return None
    part = (level - p[j - 1]) / (p[j] - p[j - 1])
    return float((d[j - 1] + part * (d[j] - d[j - 1])) / share)
