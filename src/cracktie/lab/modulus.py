"""Modulus of concrete cylinders from the log of a testing machine with transducers round the specimen."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.channels import MAD_TO_SIGMA, step_noise
from cracktie.lab.coupons import positive
from cracktie.lab.trail import Trail
from cracktie.lab.uncertainty import Propagated, propagate

STANDARDS = ("EN 12390-13 A", "EN 12390-13 B", "ASTM C469")
"""Standards whose stress limits follow from the strength of companion cylinders."""
LOW_SHARES, HIGH_SHARE = (0.10, 0.15), 1.0 / 3.0
"""Stresses of EN 12390-13 over the strength (from memory, the lower ones with medium certainty: compare with your
copy): secant from 0.10 to 0.15 up to 1/3. Its 0.5 MPa is a preload only."""
C469_SHARE, C469_STRAIN = 0.40, 50e-6
"""Upper stress over the strength and lower strain of ASTM C469/C469M (from memory)."""


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


def limits(standard: str, strength: float, lower: float | None = None) -> tuple[float | None, float]:
    """Lower and upper stress of a standard for a strength, MPa; a lower one of None is that at 50e-6 of strain.

    EN 12390-13: one third of the strength; below, 0.15 of it (the upper end of its range, which every preloading
    cycle reaches) or the stated `lower` where that lies within 0.10 to 0.15. Raises `ModelInputError`.
    """
    positive(strength=strength)
    if standard not in STANDARDS:
        raise ModelInputError(f"standard {standard!r} is none of {', '.join(STANDARDS)}")
    if standard == "ASTM C469":
        return None, C469_SHARE * strength
    low, high = (share * strength for share in LOW_SHARES)
    if lower is not None and not 0.999 * low <= lower <= 1.001 * high:
        raise ModelInputError(
            f"{standard}: the lower stress {lower:.4g} MPa is not within {low:.4g} to {high:.4g} MPa (0.10 to 0.15 of "
            f"the strength {strength:.4g} MPa)"
        )
    return high if lower is None else lower, HIGH_SHARE * strength


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
    lower_stress: float | None,
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
    MPa, both positive; a `lower_stress` of None is the stress at 50e-6 of the last loading's strain, counted from its
    lowest stress (ASTM C469/C469M form). Rows before `start` s are left out; by default those up to the last jump of
    a transducer at constant force (re-seating). `u_force` and `u_transducer` are relative calibration uncertainties,
    the others in mm; the scatter of the transducers over sqrt(n) and the noise of their readings are added.
    Raises `ModelInputError` where no loading branch covers both stresses or a jump lies after `start`.
    """
    positive(diameter=diameter, base_length=base_length, lower_stress=1.0 if lower_stress is None else lower_stress)
    if lower_stress is not None and not upper_stress > lower_stress:
        raise ModelInputError(f"upper stress {upper_stress:g} MPa is not above the lower stress {lower_stress:g} MPa")
    if not transducers:
        raise ModelInputError("no transducer; at least one length change in mm is needed")
    t = np.asarray(time, dtype=float)
    raw = _readings("the force", force)
    sign = -1.0 if abs(np.nanmin(raw)) > abs(np.nanmax(raw)) else 1.0
    stress = sign * raw * 4.0 / (math.pi * diameter**2)
    lengths = {name: sign * _readings(f"transducer {name!r}", values) for name, values in transducers.items()}
    over = np.flatnonzero(stress >= upper_stress)
    until = float(t[over[-1]]) if over.size else math.inf  # what happens after the last loading does not matter
    jumps = [jump for jump in _reseated(t, stress, lengths) if jump[1] <= until]
    begin = start if start is not None else (float(np.nextafter(jumps[-1][1], math.inf)) if jumps else float(t[0]))
    late = [jump for jump in jumps if jump[1] > begin]
    if late:
        raise ModelInputError(
            f"a transducer jumps at {late[0][1]:g} s without a change of force; start after {late[-1][1]:g} s"
        )
    if lower_stress is None:
        lower_stress = _stress_at_strain(t, stress, lengths, begin, base_length, upper_stress)
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


def _readings(name: str, values: Any) -> Any:
    """Readings as floats, infinite ones missing; refused where fewer than three are left."""
    array = np.asarray(values, dtype=float)
    array = np.where(np.isfinite(array), array, np.nan)
    if np.isfinite(array).sum() < 3:
        raise ModelInputError(f"{name} holds fewer than three readings")
    return array


def _reseated(t: Any, stress: Any, lengths: Mapping[str, Any]) -> list[tuple[int, float]]:
    """Rows after which a transducer jumps although the stress stays: 10 times any elastic step."""
    calm = np.abs(np.diff(stress)) < 0.02 * np.nanmax(np.abs(stress))
    rows: set[int] = set()
    for values in lengths.values():
        steps = np.abs(np.diff(values))
        if not np.isfinite(steps).any():  # no two readings in a row
            continue
        usual = np.nanpercentile(steps, 95)
        rows |= {int(i) for i in np.flatnonzero(calm & (steps > max(10.0 * usual, 20.0 * step_noise(values))))}
    return [(i + 1, float(t[i + 1])) for i in sorted(rows)]


def _stress_at_strain(
    t: Any, stress: Any, lengths: Mapping[str, Any], begin: float, base: float, upper: float
) -> float:
    """Stress at which the mean strain of the last loading has grown by `C469_STRAIN` from its lowest stress."""
    rows = np.flatnonzero((t >= begin) & np.isfinite(stress))
    s = stress[rows]
    over = np.flatnonzero(s >= upper)
    if not over.size:
        raise ModelInputError(
            f"the stress never reaches {upper:.4g} MPa; its largest is {float(np.nanmax(stress)):.4g}"
        )
    low = np.flatnonzero(s[: over[-1]] < 0.5 * upper)
    if not low.size:
        raise ModelInputError(f"the record begins above half of {upper:.4g} MPa: it holds no whole loading")
    last = int(low[-1])
    end = int(over[over > last][0])
    before = over[over < last]
    start = int(before[-1]) + 1 if before.size else 0
    first = start + int(np.argmin(s[start : last + 1]))
    part = rows[first : end + 1]
    strain = sum(values[part] for values in lengths.values()) / len(lengths) / base
    strain = np.maximum.accumulate(strain - strain[0])
    if part.size < 3 or not strain[-1] > C469_STRAIN:
        raise ModelInputError("the last loading holds no strain of 50 um/m: check transducers and base length")
    return float(np.interp(C469_STRAIN, strain, stress[part]))


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
