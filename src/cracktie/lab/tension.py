"""Tension coupons: FRP strips (per width first, then by thickness), steel bars, adhesives."""

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
ADHESIVE_CHORD = (500e-6, 2500e-6)
"""Strains of the chord modulus of a plastic (ISO 527-1, from memory)."""
DROP, LOOP = 0.01, 0.10
"""Fall that makes an upper yield point, and one that makes an unloading loop, as shares of the strength; our own."""
TRANSIENT = 0.0005
"""Strain after the upper yield point that counts as transient for the lower one; our own (ISO 6892-1 gives none)."""
FLAT, SHARP, LOOK = 0.015, 0.95, 0.005
"""A plateau: stress grows by less than FLAT over LOOK of strain past the proof stress, and reaches SHARP of it at
R/E; our own. Ramberg-Osgood curves of n = 25 grow by 5 % and reach 0.92."""
CURVE_POINTS = 300


@dataclass(frozen=True)
class FrpCoupon:
    """One FRP coupon, free of any thickness convention.

    `force_per_width` N/mm, `stiffness_per_width` N/mm (both per mm of width), `ultimate_strain` as a ratio and
    whether that was `measured` or is force over stiffness. `bend` is the slope between 25 and 50 % of the force over
    the chord's, None where the record does not cover it: far from 1 the record bends, so look at it.
    """

    force_per_width: float
    stiffness_per_width: float
    ultimate_strain: float
    measured: bool
    chord: tuple[float, float]
    bend: float | None = None

    def modulus(self, thickness: float) -> float:
        """Modulus in MPa for a stated thickness in mm (say with it: net fibre or gross laminate)."""
        return self.stiffness_per_width / _checked(thickness, "thickness")

    def strength(self, thickness: float) -> float:
        """Strength in MPa for a stated thickness in mm (say with it: net fibre or gross laminate)."""
        return self.force_per_width / _checked(thickness, "thickness")


@dataclass(frozen=True)
class BarCoupon:
    """One bar: modulus with its regression, proof or yield stress, strength, strain at maximum force, toe shift.

    Stresses in MPa on the stated area; strains are ratios. `upper_yield` and `lower_yield` are None without a visible
    yield drop; `strain_at_max` (A_gt, total) where the extensometer had come off; `yielding` is 'plateau' or
    'rounded'; `curve` holds strains and stresses of the loading envelope, toe taken off.
    """

    modulus: Line
    modulus_from: str
    proof_stress: float
    upper_yield: float | None
    lower_yield: float | None
    strength: float
    strain_at_max: float | None
    toe: float
    yielding: str
    curve: tuple[Any, Any]

    @property
    def yield_stress(self) -> float:
        """Upper yield stress where the curve shows one, else the proof stress, MPa."""
        return self.proof_stress if self.upper_yield is None else self.upper_yield


@dataclass(frozen=True)
class AdhesiveCoupon:
    """One adhesive coupon: strength and chord modulus in MPa, strain at the largest force as a ratio, and `bend`
    (slope between 25 and 50 % of the largest force over that of the chord)."""

    strength: float
    modulus: float
    strain_at_max: float | None
    chord: tuple[float, float]
    bend: float | None


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
    e, f, peak = _record(strain, force)
    top = int(np.argmax(f))
    if strain_to_failure and f[top] < 0.98 * peak:
        raise ModelInputError(
            f"the strain ends at {f[top] / peak:.0%} of the largest force, so it did not stay on: leave out "
            "strain_to_failure"
        )
    peak /= _checked(width, "width")
    rising = slice(0, top + 1)

    def stiffness(ends: tuple[float, float]) -> float:
        return _chord(e[rising], f[rising], ends) / width

    if chord == CHORD:
        likely = float(e[top]) if strain_to_failure else peak / stiffness(chord)
        if likely < BRITTLE:
            chord = (0.25 * likely, 0.50 * likely)
    K = stiffness(chord)
    ultimate = float(e[top]) if strain_to_failure else peak / K
    bend = _bend(e[rising], f[rising], peak * width, K * width)
    return FrpCoupon(peak, K, ultimate, strain_to_failure, chord, bend)


def adhesive_coupon(
    strain: Any, force: Any, *, area: float, chord: tuple[float, float] = ADHESIVE_CHORD
) -> AdhesiveCoupon:
    """Strength and chord modulus of an adhesive (ISO 527-1 form, from memory); strain ratio, force N, area mm2."""
    e, f, peak = _record(strain, force)
    top = int(np.argmax(f))
    rising = slice(0, top + 1)
    slope = _chord(e[rising], f[rising], chord)
    at_max = float(e[top]) if f[top] >= 0.98 * peak else None
    bend = _bend(e[rising], f[rising], peak, slope)
    return AdhesiveCoupon(peak / _checked(area, "area"), slope / area, at_max, chord, bend)


def bar_coupon(
    strain: Any, stress: Any, *, offset: float = 0.002, window: tuple[float, float] = (0.1, 0.4)
) -> BarCoupon:
    """Proof stress by the offset line, yield points, strength and total strain at maximum force (ISO 6892-1 form, from
    memory).

    The modulus is that of an unloading loop where the record holds one (both branches, the middle 80 % of its
    stresses), else a regression over `window` times the proof stress (own choice of window), found by repeating until
    both agree. The strain where that line meets zero stress is the toe and is taken off; with a loop, that of the line
    of its slope that touches the first loading where it is steepest (ISO 6892-1, corrected origin).
    """
    e, s, strength = _record(strain, stress)
    top = int(np.argmax(s))
    end = top + 1 if s[top] >= 0.995 * strength else s.size  # the strain may end on a plateau below the upper yield
    loop = _loop(e[:end], s[:end], strength)
    if loop is not None:
        line, told = regression(e[loop], s[loop]), f"unloading loop, {s[loop].min():.0f} to {s[loop].max():.0f} MPa"
        toe = _touching(e[: loop[0]], s[: loop[0]], line.slope, 0.1 * strength)
        proof = _crossing(e[:end] - toe, s[:end], line.slope, offset)
    else:
        line, toe, proof = _first_loading(e[:end], s[:end], strength, offset, window)
        told = f"first loading, {window[0] * proof:.0f} to {window[1] * proof:.0f} MPa"
    x, y = _envelope(e - toe, s)
    high, low = _yield_points(x, y, proof)
    yielding = "plateau" if high is not None or _plateau(x, y, proof, line.slope) else "rounded"
    at_max = float(e[top]) - toe if s[top] >= 0.995 * strength and not _stuck(e, s, top) else None
    return BarCoupon(line, told, proof, high, low, strength, at_max, toe, yielding, _thinned(x, y))


def yield_strain(proof_stress: float, modulus: float, *, rounded: bool) -> tuple[float, float]:
    """Strains that bound 'on the knee' and 'yielded'.

    With a sharp yield plateau both are R/E. For rounded bars the stress at R/E is still 8 to 17 % below the proof
    stress: yielded is R/E + 0.002, and between the two the stress comes from the bar's own curve.
    """
    knee = _checked(proof_stress, "proof stress") / _checked(modulus, "modulus")
    return knee, knee + 0.002 if rounded else knee


def total_strain_at_max(plastic: float, strength: float, modulus: float = 200_000.0) -> float:
    """A_gt as a ratio from the plastic part A_g: A_gt = A_g + R_m/E.

    With E = 200 GPa the form of ISO 15630-1, A_gt = A_g + R_m/2000 in per cent with R_m in MPa (from memory).
    """
    return plastic + strength / _checked(modulus, "modulus")


def area_by_mass(mass: float, length: float) -> float:
    """Actual area in mm2 of a bar from its mass in g and length in mm, steel of 7850 kg/m3 (EN 10080, from memory)."""
    return _checked(mass, "mass") / (7.85e-3 * _checked(length, "length"))


def _first_loading(
    e: Any, s: Any, strength: float, offset: float, window: tuple[float, float]
) -> tuple[Line, float, float]:
    """Regression over the window of the proof stress, toe, and proof stress."""
    proof = 0.8 * strength
    for _ in range(50):
        inside = np.flatnonzero((s >= window[0] * proof) & (s <= window[1] * proof))
        first_run = inside[: int(np.argmax(np.diff(inside) > 1)) + 1] if (np.diff(inside) > 1).any() else inside
        if first_run.size < 3:
            raise ModelInputError(
                f"{first_run.size} readings from {window[0] * proof:.0f} to {window[1] * proof:.0f} MPa, where the "
                f"modulus is read; the record begins at {s[0]:.0f} MPa"
            )
        line = regression(e[first_run], s[first_run])
        toe = float(e[first_run].mean() - s[first_run].mean() / line.slope)
        new = _crossing(e - toe, s, line.slope, offset)
        if abs(new - proof) <= 1e-9 * strength:
            break
        proof = new
    return line, toe, new


def _loop(e: Any, s: Any, strength: float) -> Any:
    """Rows of the first unloading loop (down and up again), the middle 80 % of its stresses; None without one.

    Strain goes back while stress falls by more than `LOOP` of the strength: a fall at growing strain is yielding.
    """
    early = int(np.argmax(s >= 0.3 * strength))
    back = 0.2 * LOOP * strength * e[early] / s[early]
    fallen = np.flatnonzero(
        (s < np.maximum.accumulate(s) - LOOP * strength) & (e < np.maximum.accumulate(e) - max(back, 0.0))
    )
    if fallen.size == 0:
        return None
    first = int(np.argmax(s[: fallen[0]]))
    again = np.flatnonzero(s[fallen[0] :] >= s[first])
    last = int(fallen[0] + again[0]) if again.size else len(s) - 1
    rows = np.arange(first, last + 1)
    bottom = float(s[rows].min())
    reach = float(s[first]) - bottom
    inside = (s[rows] >= bottom + 0.1 * reach) & (s[rows] <= s[first] - 0.1 * reach)
    return rows[inside] if inside.sum() >= 5 else None


def _touching(e: Any, s: Any, slope: float, step: float) -> float:
    """Strain at zero stress of a line of that slope through the steepest stretch (`step` MPa) of the first loading."""
    best, toe = -np.inf, 0.0
    for level in np.arange(0.5 * step, float(s.max()) - step, 0.5 * step):
        inside = (s >= level) & (s <= level + step)
        if inside.sum() >= 5 and np.ptp(e[inside]) > 0.0:
            found = regression(e[inside], s[inside]).slope
            if found > best:
                best, toe = found, float(e[inside].mean() - s[inside].mean() / slope)
    return toe


def _envelope(e: Any, s: Any) -> tuple[Any, Any]:
    """Rows at which the strain is larger than ever before: loading without loops and noise going back."""
    before = np.concatenate(([-np.inf], np.maximum.accumulate(e)[:-1]))
    ahead = e > before
    return e[ahead], s[ahead]


def _thinned(e: Any, s: Any) -> tuple[Any, Any]:
    """Curve up to the largest stress through at most `CURVE_POINTS` of its points, from zero."""
    top = int(np.argmax(s)) + 1
    e, s = e[:top], s[:top]
    keep = e > 0.0
    e, s = e[keep], s[keep]
    if e.size > CURVE_POINTS:  # half of them below 1 % of strain, where the knee is
        knee = np.linspace(e[0], min(0.01, e[-1]), CURVE_POINTS // 2)
        rest = np.linspace(knee[-1], e[-1], CURVE_POINTS // 2 + 1)[1:]
        at = np.unique(np.concatenate((knee, rest)))
        e, s = at, np.interp(at, e, s)
    return np.concatenate(([0.0], e)), np.concatenate(([0.0], s))


def _stuck(e: Any, s: Any, top: int) -> bool:
    """Whether the strain stands still over the rows before the largest force while the force still grows."""
    back = np.flatnonzero(s[: top + 1] <= 0.99 * s[top])
    start = int(back[-1]) if back.size else 0
    return top - start >= 3 and float(np.ptp(e[start : top + 1])) < 1e-6


def _crossing(e: Any, s: Any, slope: float, offset: float) -> float:
    difference = s - slope * (e - offset)
    after = np.flatnonzero((difference <= 0.0) & (e > offset))
    if after.size == 0:
        raise ModelInputError(
            f"the curve never meets the {100 * offset:g} % offset line; it ends at strain {e[-1]:.4g}"
        )
    j = int(after[0])
    if j == 0:
        raise ModelInputError(f"the record begins at strain {e[0]:.4g}, beyond the {100 * offset:g} % offset line")
    share = difference[j - 1] / (difference[j - 1] - difference[j])
    return float(s[j - 1] + share * (s[j] - s[j - 1]))


def _yield_points(e: Any, s: Any, proof: float) -> tuple[float | None, float | None]:
    """Upper and lower yield stress of an envelope; None without a yield drop before 2 % of strain.

    Upper: the first maximum followed by a fall of more than 1 % near the proof stress. Lower: the least stress from
    `TRANSIENT` of strain past it until it is reached again (ISO 6892-1 form, from memory).
    """
    early = np.flatnonzero((e < 0.02) & (s > 0.9 * proof))
    if early.size < 3:
        return None, None
    best = np.maximum.accumulate(s[early])
    fallen = np.flatnonzero(s[early] < (1.0 - DROP) * best)
    if not fallen.size:
        return None, None
    high = float(best[fallen[0]])
    place = int(early[np.argmax(s[early] >= high)])
    again = np.flatnonzero(s[place + 1 :] >= high)
    end = place + 1 + int(again[0]) if again.size else len(s)
    flow = s[place:end][e[place:end] >= e[place] + TRANSIENT]
    return high, float(flow.min()) if flow.size else None


def _plateau(e: Any, s: Any, proof: float, slope: float) -> bool:
    """Whether a curve without yield drop turns sharply into a flat line."""
    knee = proof / slope
    if e[-1] < knee + LOOK:
        return False
    at_knee, later = np.interp([knee, knee + 0.002 + LOOK], e, s)
    return bool(at_knee >= SHARP * proof and later <= (1.0 + FLAT) * proof)


def _chord(e: Any, f: Any, ends: tuple[float, float]) -> float:
    """Slope of the chord between two strains."""
    low, high = (_force_at(e, f, level) for level in ends)
    if not high > low:
        raise ModelInputError(
            f"the force does not grow from {ends[0] * 1e6:.0f} to {ends[1] * 1e6:.0f} um/m: is that the strain along "
            "the coupon?"
        )
    return (high - low) / (ends[1] - ends[0])


def _bend(e: Any, f: Any, peak: float, slope: float) -> float | None:
    """Slope between 25 and 50 % of the peak over the chord's; None where too few readings lie there."""
    inside = (f >= 0.25 * peak) & (f <= 0.50 * peak)
    if inside.sum() < 5 or np.ptp(e[inside]) <= 0.0:
        return None
    return regression(e[inside], f[inside]).slope / slope


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


def _record(strain: Any, load: Any) -> tuple[Any, Any, float]:
    """Readings with both values, and the largest load of all: an extensometer often comes off before it."""
    e, f = np.asarray(strain, dtype=float), np.asarray(load, dtype=float)
    if e.shape != f.shape:
        raise ModelInputError(f"{e.size} strains and {f.size} forces; one each is needed")
    keep = np.isfinite(e) & np.isfinite(f)
    if keep.sum() < 10:
        raise ModelInputError(f"{int(keep.sum())} readings with strain and force; at least 10 are needed")
    peak = float(np.nanmax(f))
    if not peak > 0.0:
        raise ModelInputError("the force never rises above 0: check its sign")
    return e[keep], f[keep], peak


def _checked(value: float, name: str) -> float:
    if not value > 0.0 or math.isinf(value):
        raise ModelInputError(f"{name} is {value}; a positive number is needed")
    return value
