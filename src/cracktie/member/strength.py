"""Strength of a batch at the age of a test, from companion specimens of other ages; its measured tensile strength."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

from cracktie.campaign.materials import Concrete, StrengthTest
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.units import Quantity

REFERENCE = "cylinder 150x300"
"""Shape that goes before others of the same age."""
SPLIT = 0.9
"""Axial over splitting tensile strength, EN 1992-1-1:2004, (3.3)."""
FEWEST_AGES = 3
"""Ages a fitted curve of two coefficients needs."""


def age_at_test(batch: Concrete, specimen: Specimen, test: Test | None) -> float | None:
    """Age of the concrete in days: as the test states it, else from the dates, else as the specimen states it."""
    if test is not None and test.age is not None:
        return float(test.age)
    cast = specimen.cast or batch.cast
    if test is not None and test.date and cast:
        try:
            days = (datetime.date.fromisoformat(test.date) - datetime.date.fromisoformat(cast)).days
        except ValueError:
            return None
        return float(days) if days > 0 else None
    return None if specimen.age_at_test is None else float(specimen.age_at_test)


def measured_strength(batch: Concrete, age: float | None) -> tuple[float, float | None, str] | None:
    """Cylinder strength (MPa) of a batch at an age in days, its standard uncertainty, and how it was found.

    Companion tests are interpolated linearly over the logarithm of age; outside the tested ages the nearest one
    stands. `strength_at_age: fitted` takes `fitted_strength` instead, where there are enough ages. Cube results are not
    converted silently: only cylinders count, or cubes times a stated `cylinder_over_cube`. None where nothing counts.
    """
    cylinders, converted = _cylinders(batch)
    if not cylinders:
        if batch.measured is not None and batch.measured.f_c is not None:
            return float(batch.measured.f_c), batch.measured.f_c.u, "measured"
        return None
    if age is None:
        last = cylinders[-1]
        return float(last.f_c), last.f_c.u, f"cylinders at {last.age:g} d (age at test not given){converted}"
    why_not = ""
    if batch.strength_at_age == "fitted":
        ages = len({float(t.age) for t in cylinders})
        if ages >= FEWEST_AGES:
            fitted, u_fitted, told = fitted_strength(cylinders, age)
            return fitted, u_fitted, told + converted
        why_not = f"; no curve is fitted to {ages} ages, {FEWEST_AGES} are needed"
    value, u, how = _interpolated(cylinders, age)
    return value, u, how + why_not + converted


def _cylinders(batch: Concrete) -> tuple[list[StrengthTest], str]:
    """Cylinder tests in the order of age, of one age the larger cylinders first; what was done to cubes to get them."""
    cylinders = [t for t in batch.strength if t.shape.startswith("cylinder")]
    told = ""
    ratio = batch.cylinder_over_cube
    if not cylinders and ratio is not None:
        cubes = [t for t in batch.strength if t.shape.startswith("cube")]
        cylinders = [t.model_copy(update={"f_c": _ratio_of(t.f_c, ratio)}) for t in cubes]
        told = f"; cubes times {ratio:g} (cylinder_over_cube)" if cubes else ""
    return sorted(cylinders, key=lambda t: (t.age, t.shape != REFERENCE)), told


def _ratio_of(f_c: Quantity, ratio: Quantity) -> Quantity:
    parts = [q.u / float(q) for q in (f_c, ratio) if q.u]
    value = float(f_c) * float(ratio)
    return Quantity(value, value * math.hypot(*parts) if parts else None)


def measured_tension(batch: Concrete) -> tuple[float, float | None, str] | None:
    """Measured tensile strength of a batch (MPa), its standard uncertainty, and how it was found; None without one.

    Best first: direct tension; 0.9 times the splitting strength (EN 1992-1-1:2004, (3.3)); the flexural strength over
    max(1.6 - h/1000, 1) with the depth of the prism ((3.23)); the pull-off strength of the surface where the concrete
    failed, as it is.
    """
    values = batch.measured
    if values is None:
        return None
    found: list[tuple[Quantity, float, str]] = []
    if values.f_ct is not None:
        found.append((values.f_ct, 1.0, "direct tension"))
    if values.f_ct_split is not None:
        found.append((values.f_ct_split, SPLIT, f"{SPLIT:g} times the splitting strength (EN 1992-1-1:2004, (3.3))"))
    if values.f_ct_fl is not None and values.h_prism is not None:
        share = 1.0 / max(1.6 - float(values.h_prism) / 1000.0, 1.0)
        told = f"{share:.3f} times the flexural strength of {values.h_prism:g} mm prisms (EN 1992-1-1:2004, (3.23))"
        found.append((values.f_ct_fl, share, told))
    if values.pull_off is not None:
        found.append((values.pull_off, 1.0, "pull-off strength of the surface, failed in the concrete"))
    if not found:
        return None
    value, share, how = found[0]
    beside = [f"{q * s:.2f} MPa by {w.partition(' (')[0]}" for q, s, w in found[1:]]
    told = f"measured, {how}" + (f"; beside it {', '.join(beside)}" if beside else "")
    return float(value) * share, None if value.u is None else value.u * share, told


def _interpolated(cylinders: Sequence[StrengthTest], age: float) -> tuple[float, float | None, str]:
    before = [t for t in cylinders if t.age <= age]
    after = [t for t in cylinders if t.age >= age]
    if not before or not after:
        near = after[0] if after else next(t for t in before if t.age == before[-1].age)
        return (
            float(near.f_c),
            near.f_c.u,
            f"cylinders at {near.age:g} d, nearest to {age:g} d, OUTSIDE the tested ages",
        )
    first, second = next(t for t in before if t.age == before[-1].age), after[0]
    if first is second or first.age == second.age:
        return float(first.f_c), first.f_c.u, f"cylinders at {first.age:g} d"
    share = (math.log(age) - math.log(first.age)) / (math.log(second.age) - math.log(first.age))
    value = (1 - share) * first.f_c + share * second.f_c
    spreads = [first.f_c.u, second.f_c.u]
    u = None if None in spreads else math.hypot((1 - share) * (spreads[0] or 0), share * (spreads[1] or 0))
    return value, u, f"cylinders at {first.age:g} and {second.age:g} d, interpolated to {age:g} d"


def fitted_strength(cylinders: Sequence[StrengthTest], age: float) -> tuple[float, float, str]:
    """Strength at an age from f_c = f_28 exp(s (1 - sqrt(28 d / age))), fitted to tests of three or more ages.

    The form is that of EN 1992-1-1:2004, 3.1.2(6), with f_28 and s both free: a straight line of ln f_c over
    1 - sqrt(28/age) by least squares, weighted with the stated uncertainties where every test has one. The uncertainty
    is that of the line at the age: from the stated ones (Gauss-Markov), or from the residuals where they scatter more.
    """
    points = [(1.0 - math.sqrt(28.0 / t.age), math.log(t.f_c), t.f_c) for t in cylinders]
    stated = all(t.f_c.u for t in cylinders)
    weights = [(float(f) / f.u) ** 2 if stated and f.u else 1.0 for _, _, f in points]
    total = math.fsum(weights)
    x_mean = math.fsum(w * x for w, (x, _, _) in zip(weights, points, strict=True)) / total
    y_mean = math.fsum(w * y for w, (_, y, _) in zip(weights, points, strict=True)) / total
    spread = math.fsum(w * (x - x_mean) ** 2 for w, (x, _, _) in zip(weights, points, strict=True))
    s = math.fsum(w * (x - x_mean) * y for w, (x, y, _) in zip(weights, points, strict=True)) / spread
    rest = math.fsum(w * (y - y_mean - s * (x - x_mean)) ** 2 for w, (x, y, _) in zip(weights, points, strict=True))
    scatter = rest / (len(points) - 2)
    at = 1.0 - math.sqrt(28.0 / age) - x_mean
    relative = math.sqrt((1.0 / total + at**2 / spread) * (max(scatter, 1.0) if stated else scatter))
    value = math.exp(y_mean + s * at)
    ages = sorted({float(t.age) for t in cylinders})
    beyond = "" if ages[0] <= age <= ages[-1] else ", OUTSIDE the tested ages"
    told = f"curve through cylinders at {', '.join(f'{a:g}' for a in ages)} d (s = {s:.2f}), taken at {age:g} d{beyond}"
    return value, value * relative, told
