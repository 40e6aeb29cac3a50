"""Concrete cylinders and cubes from the log of a testing machine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.report import LogFile
from cracktie.lab.uncertainty import propagate

DENSITY_RANGE = (2200.0, 2500.0)
"""Plain normal-weight concrete in kg/m3 (common practice, no source)."""

ACCEPTABLE_RANGE = {"cylinder 150x300": {2: 0.066, 3: 0.078}, "cylinder 100x200": {2: 0.090, 3: 0.106}}
"""Largest range over mean of 2 or 3 cylinders made and tested together (ASTM C39/C39M, precision; from memory, medium
certainty). They are about 2.8 and 3.3 (ASTM C670) times a coefficient of variation of 2.4 and 3.2 %."""
_L_OVER_D = ((1.00, 0.87), (1.25, 0.93), (1.50, 0.96), (1.75, 0.98))


@dataclass(frozen=True)
class Strength:
    """Compressive strength in MPa with its standard uncertainty, the force in N and where that came from.

    `log_force` is the largest force of the log; `factor` the slenderness factor applied (1: none).
    """

    value: float
    u: float
    force: float
    source: str
    log_force: float
    factor: float = 1.0


def controller_peak(log: LogFile, column: str) -> tuple[float, str] | None:
    """Value of largest magnitude that the controller kept for `column`, and the block it stands in.

    Controllers append a summary of one to three rows without a time column; None where the log has none.
    """
    best: tuple[float, str] | None = None
    for block in log.blocks:
        if block.frame.height <= 3 and block.time is None and column in block.columns:
            values = block.values(column)
            values = values[np.isfinite(values)]
            if values.size:
                value = float(values[np.argmax(np.abs(values))])
                if best is None or abs(value) > abs(best[0]):
                    best = value, block.name
    return best


def cylinder_strength(
    force: Any,
    *,
    diameter: float,
    length: float | None = None,
    peak_hold: float | None = None,
    u_force: float = 0.01,
    u_diameter: float = 0.0,
) -> Strength:
    """Strength 4 P/(pi D^2) in MPa from the force record in N (either sign) or the controller's peak.

    `length` switches on the slenderness factor of ASTM C39/C39M (from memory): 0.87, 0.93, 0.96, 0.98 at length
    over diameter 1.00, 1.25, 1.50, 1.75, interpolated, 1 above. `u_force` is relative, `u_diameter` in mm.
    """
    positive(diameter=diameter)
    factor = 1.0 if length is None else slenderness_factor(length / diameter)
    peak, source, logged = _peak_force(force, peak_hold)
    found = propagate(
        lambda P, D: factor * 4.0 * P / (math.pi * D**2),
        {"P": peak, "D": diameter},
        {"P": u_force * peak, "D": u_diameter},
    )
    return Strength(found.value, found.u, peak, source, logged, factor)


def cube_strength(
    force: Any,
    *,
    width: float,
    depth: float,
    peak_hold: float | None = None,
    u_force: float = 0.01,
    u_side: float = 0.0,
) -> Strength:
    """Strength P/(width depth) in MPa of a cube or block pressed on a face of `width` x `depth` mm."""
    positive(width=width, depth=depth)
    peak, source, logged = _peak_force(force, peak_hold)
    found = propagate(
        lambda P, b, d: P / (b * d),
        {"P": peak, "b": width, "d": depth},
        {"P": u_force * peak, "b": u_side, "d": u_side},
    )
    return Strength(found.value, found.u, peak, source, logged)


def splitting_strength(
    force: Any,
    *,
    diameter: float,
    length: float,
    peak_hold: float | None = None,
    u_force: float = 0.01,
    u_size: float = 0.0,
) -> Strength:
    """Splitting strength 2 P/(pi L D) in MPa of a cylinder, the form of ASTM C496 and EN 12390-6 (from memory)."""
    positive(diameter=diameter, length=length)
    peak, source, logged = _peak_force(force, peak_hold)
    found = propagate(
        lambda P, D, L: 2.0 * P / (math.pi * L * D),
        {"P": peak, "D": diameter, "L": length},
        {"P": u_force * peak, "D": u_size, "L": u_size},
    )
    return Strength(found.value, found.u, peak, source, logged)


def slenderness_factor(ratio: float) -> float:
    """Factor of ASTM C39/C39M for length over diameter (from memory); refused below 1."""
    if ratio < 1.0:
        raise ModelInputError(f"length over diameter is {ratio:.3g}; the factors begin at 1.00: check both sizes")
    places, factors = zip(*_L_OVER_D, strict=True)
    return float(np.interp(ratio, places, factors)) if ratio <= 1.75 else 1.0


def acceptable_range(shape: str, n: int) -> float | None:
    """Range over mean that careful testing of `n` cylinders leaves; None where no number is known."""
    return ACCEPTABLE_RANGE.get(shape, {}).get(n)


def density(mass: float, area: float, length: float) -> tuple[float, bool]:
    """Density in kg/m3 of a specimen (g, mm2, mm), and whether it is that of plain normal-weight concrete.

    A typed size that is wrong shows here at once.
    """
    positive(mass=mass, area=area, length=length)
    value = mass * 1e6 / (area * length)
    return value, DENSITY_RANGE[0] <= value <= DENSITY_RANGE[1]


def _peak_force(force: Any, peak_hold: float | None) -> tuple[float, str, float]:
    values = np.abs(np.asarray(force, dtype=float))
    if not np.isfinite(values).any():
        raise ModelInputError("the force record holds no reading")
    logged = float(np.nanmax(values))
    if peak_hold is not None and abs(peak_hold) >= logged:
        return abs(peak_hold), "peak kept by the controller", logged
    return logged, "largest reading of the log", logged


def positive(**sizes: float) -> None:
    """Refuse sizes that are no positive number."""
    for name, value in sizes.items():
        if not value > 0.0 or math.isinf(value):
            raise ModelInputError(f"{name.replace('_', ' ')} is {value}; a positive number is needed")
