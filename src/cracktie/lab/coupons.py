"""Concrete cylinders and cubes from the log of a testing machine."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.channels import MAD_TO_SIGMA, step_noise
from cracktie.lab.report import LogFile
from cracktie.lab.trail import Trail
from cracktie.lab.uncertainty import Propagated, propagate

DENSITY_RANGE = (2200.0, 2500.0)
"""Plain normal-weight concrete in kg/m3 (common practice, no source)."""

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


@dataclass(frozen=True)
class Cycle:
    """One loading branch: rows, secant modulus of the mean and of each transducer, MPa; peak stress, MPa."""

    first: int
    last: int
    peak: float
    modulus: float
    each: Mapping[str, float]


@dataclass(frozen=True)
class Modulus:
    """Secant modulus of a cylinder.

    `value` and `u` in MPa belong to the last cycle; `peak_stress`, `lower_stress` and `upper_stress` in MPa;
    `reseated` lists (row, time) where transducers jumped without a change of force, all before `start`;
    `spread` is (largest - smallest)/mean of the transducers in the last cycle.
    """

    value: float
    u: float
    cycles: tuple[Cycle, ...]
    peak_stress: float
    lower_stress: float
    upper_stress: float
    base_length: float
    spread: float
    reseated: tuple[tuple[int, float], ...]
    start: float
    budget: Propagated
    trail: Trail


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
    _positive(diameter=diameter)
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
    _positive(width=width, depth=depth)
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
    _positive(diameter=diameter, length=length)
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


def density(mass: float, area: float, length: float) -> tuple[float, bool]:
    """Density in kg/m3 of a specimen (g, mm2, mm), and whether it is that of plain normal-weight concrete.

    A typed size that is wrong shows here at once.
    """
    _positive(mass=mass, area=area, length=length)
    value = mass * 1e6 / (area * length)
    return value, DENSITY_RANGE[0] <= value <= DENSITY_RANGE[1]


def chord_modulus(upper_stress: float, lower_stress: float, upper_strain: float, lower_strain: float = 50e-6) -> float:
    """Chord modulus in MPa; with the default lower strain the form of ASTM C469/C469M (from memory)."""
    if not upper_strain > lower_strain:
        raise ModelInputError(f"upper strain {upper_strain:g} is not above the lower strain {lower_strain:g}")
    return (upper_stress - lower_stress) / (upper_strain - lower_strain)


def cylinder_modulus(
    time: Any,
    force: Any,
    transducers: Mapping[str, Any],
    *,
    diameter: float,
    base_length: float,
    lower_stress: float,
    upper_stress: float,
    start: float | None = None,
    u_force: float = 0.01,
    u_diameter: float = 0.0,
    u_base_length: float = 0.0,
    u_transducer: float = 0.01,
) -> Modulus:
    """Secant modulus between two stresses on every loading branch, from several transducers round the cylinder.

    time s; force N (compression of either sign); transducers mm, of the same sign as the force; `diameter` and
    `base_length` mm: the base length is no part of a machine log and must be known from the set-up. Stresses in
    MPa, both positive. Rows before `start` s are left out; by default those up to the last jump of a transducer at
    constant force (re-seating). `u_force` and `u_transducer` are relative calibration uncertainties, the others
    in mm; the scatter of the transducers over sqrt(n) and the noise of their readings are added.
    Raises `ModelInputError` where no loading branch covers both stresses or a jump lies after `start`.
    """
    _positive(diameter=diameter, base_length=base_length, lower_stress=lower_stress)
    if not upper_stress > lower_stress:
        raise ModelInputError(f"upper stress {upper_stress:g} MPa is not above the lower stress {lower_stress:g} MPa")
    t = np.asarray(time, dtype=float)
    raw = np.asarray(force, dtype=float)
    sign = -1.0 if abs(np.nanmin(raw)) > abs(np.nanmax(raw)) else 1.0
    stress = sign * raw * 4.0 / (math.pi * diameter**2)
    lengths = {name: sign * np.asarray(values, dtype=float) for name, values in transducers.items()}
    if not lengths:
        raise ModelInputError("no transducer; at least one length change in mm is needed")
    jumps = _reseated(t, stress, lengths)
    begin = start if start is not None else (float(np.nextafter(jumps[-1][1], math.inf)) if jumps else float(t[0]))
    late = [jump for jump in jumps if jump[1] > begin]
    if late:
        raise ModelInputError(
            f"a transducer jumps at {late[0][1]:g} s without a change of force; start after {late[-1][1]:g} s"
        )
    cycles = _cycles(t, stress, lengths, begin, base_length, lower_stress, upper_stress)
    last = cycles[-1]
    each = np.array(list(last.each.values()))
    spread = float(np.ptp(each) / each.mean()) if each.size > 1 else 0.0
    budget = _budget(
        last,
        lengths,
        diameter,
        base_length,
        upper_stress - lower_stress,
        (u_force, u_diameter, u_base_length, u_transducer),
    )
    used = {"lower_MPa": lower_stress, "upper_MPa": upper_stress, "base_length_mm": base_length}
    rows = np.concatenate([np.arange(c.first, c.last + 1) for c in cycles])
    trail = Trail().add("sign", {"sign": sign}, np.isfinite(raw)).add("start", {"start_s": begin}, t < begin)
    return Modulus(
        last.modulus,
        budget.u,
        cycles,
        float(np.nanmax(stress)),
        lower_stress,
        upper_stress,
        base_length,
        spread,
        tuple(jumps),
        begin,
        budget,
        trail.add("secant", used, rows),
    )


def _reseated(t: Any, stress: Any, lengths: Mapping[str, Any]) -> list[tuple[int, float]]:
    """Rows after which a transducer jumps although the stress stays: 10 times any elastic step."""
    calm = np.abs(np.diff(stress)) < 0.02 * np.nanmax(np.abs(stress))
    rows: set[int] = set()
    for values in lengths.values():
        steps = np.abs(np.diff(values))
        usual = np.nanpercentile(steps, 95)
        rows |= {int(i) for i in np.flatnonzero(calm & (steps > max(10.0 * usual, 20.0 * step_noise(values))))}
    return [(i + 1, float(t[i + 1])) for i in sorted(rows)]


def _cycles(
    t: Any, stress: Any, lengths: Mapping[str, Any], begin: float, base: float, lower: float, upper: float
) -> tuple[Cycle, ...]:
    rows = np.flatnonzero((t >= begin) & np.isfinite(stress))
    branches = _loading_branches(stress[rows], lower, upper)
    if not branches:
        raise ModelInputError(
            f"no loading branch runs from {lower:g} MPa to {upper:g} MPa after {begin:g} s; the largest "
            f"stress is {float(np.nanmax(stress)):.4g} MPa"
        )
    out = []
    for first, last in branches:
        part = rows[first : last + 1]
        changes = {
            name: _shortening(name, stress[part], values[part], lower, upper) for name, values in lengths.items()
        }
        each = {name: (upper - lower) * base / change for name, change in changes.items()}
        mean = len(changes) * (upper - lower) * base / sum(changes.values())  # mean of the strains, not of the moduli
        out.append(Cycle(int(part[0]), int(part[-1]), float(np.nanmax(stress[part])), mean, each))
    return tuple(out)


def _shortening(name: str, stress: Any, values: Any, lower: float, upper: float) -> float:
    change = _at(stress, values, upper) - _at(stress, values, lower)
    if not change > 0.0:
        raise ModelInputError(
            f"transducer {name!r} does not follow the force ({change:.4g} mm from {lower:g} to {upper:g} MPa): "
            "check its sign, or leave it out"
        )
    return change


def _loading_branches(stress: Any, lower: float, upper: float) -> list[tuple[int, int]]:
    """(last row at or below `lower`, first later row at or above `upper`), one pair a cycle."""
    out: list[tuple[int, int]] = []
    below = -1
    for i, value in enumerate(stress):
        if value <= lower:
            below = i
        elif value >= upper and below >= 0:
            out.append((below, i))
            below = -1
    return out


def _at(stress: Any, values: Any, level: float) -> float:
    """Length change at a stress level: straight line through the readings within 10 % of the branch around it."""
    reach = 0.1 * float(np.ptp(stress))
    near = np.abs(stress - level) <= reach
    if near.sum() >= 4 and np.ptp(stress[near]) > 0.0:
        _slope, value = np.polyfit(stress[near] - level, values[near], 1)
        return float(value)
    order = np.argsort(stress)
    return float(np.interp(level, stress[order], values[order]))


def _budget(
    last: Cycle, lengths: Mapping[str, Any], diameter: float, base: float, range_: float, u: Sequence[float]
) -> Propagated:
    u_force, u_diameter, u_base, u_transducer = u
    force = range_ * math.pi * diameter**2 / 4.0
    shortening = range_ * base / last.modulus
    each = np.array([range_ * base / modulus for modulus in last.each.values()])
    branch = slice(last.first, last.last + 1)
    noise = math.sqrt(2.0 * sum(_bend_noise(values[branch]) ** 2 for values in lengths.values())) / each.size
    scatter = float(each.std(ddof=1)) / math.sqrt(each.size) if each.size > 1 else 0.0
    return propagate(
        lambda force, diameter, base_length, calibration, reading, position: (
            4.0 * force * base_length / (math.pi * diameter**2 * (shortening * calibration + reading + position))
        ),
        {
            "force": force,
            "diameter": diameter,
            "base_length": base,
            "calibration": 1.0,
            "reading": 0.0,
            "position": 0.0,
        },
        {
            "force": u_force * force,
            "diameter": u_diameter,
            "base_length": u_base,
            "calibration": u_transducer,
            "reading": noise,
            "position": scatter,
        },
    )


def _bend_noise(values: Any) -> float:
    """Robust noise from second differences, which a steady ramp does not enter."""
    bends = np.diff(values, 2)
    return MAD_TO_SIGMA * float(np.nanmedian(np.abs(bends))) / math.sqrt(6.0) if bends.size > 2 else 0.0


def _peak_force(force: Any, peak_hold: float | None) -> tuple[float, str, float]:
    values = np.abs(np.asarray(force, dtype=float))
    if not np.isfinite(values).any():
        raise ModelInputError("the force record holds no reading")
    logged = float(np.nanmax(values))
    if peak_hold is not None and abs(peak_hold) >= logged:
        return abs(peak_hold), "peak kept by the controller", logged
    return logged, "largest reading of the log", logged


def _positive(**sizes: float) -> None:
    for name, value in sizes.items():
        if not value > 0.0 or math.isinf(value):
            raise ModelInputError(f"{name.replace('_', ' ')} is {value}; a positive number is needed")
