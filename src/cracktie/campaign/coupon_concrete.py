"""Concrete coupons: strength by shape and age, modulus, tension, density; from rows to the values of a batch."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from typing import Any

from cracktie.campaign.coupon_bond import SUBSTRATE, pull_offs
from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.coupon_summary import Collected, Summary, product, times
from cracktie.campaign.materials import SHAPES, Concrete, StrengthTest
from cracktie.errors import CracktieError, Problem
from cracktie.units import Quantity

SIZE_SLACK = 3.0
"""mm by which the sizes of a cylinder or cube may differ from those of a named shape; our own choice."""
LOADINGS = {"third points": 1.0, "centre": 1.5}
"""How a prism is loaded: f = factor times F l/(b d^2) (EN 12390-5, ASTM C78 and C293; from memory)."""
SLENDER = 2.2
"""Length over diameter above which ASTM C39/C39M asks for a shorter specimen (from memory)."""


def concrete_values(entry: Concrete, c: Collected) -> dict[str, Any]:
    """Strength tests by age and shape, and the other properties under `measured`."""
    groups: dict[tuple[float, str], list[CouponRow]] = {}
    for row in c.rows:
        _density(row, c)
        _slender(row, c)
        if c.checked(row, "f_c", f_c) is None:
            continue
        shape = row.texts.get("shape") or _shape(row)
        age = _age(row, c, entry)
        if shape not in SHAPES:
            told = f"possible: {', '.join(SHAPES)}"
            c.problems.append(row.problem(f"the shape {shape or ''!r} is not known", told))
        elif age is not None:
            groups.setdefault((age, shape), []).append(row)
    tests = []
    for (age, shape), rows in sorted(groups.items()):
        made = c.summarise("f_c", "MPa", f_c, rows=rows, group=f"{shape}, {age:g} d")
        if made is not None:
            tests.append(StrengthTest(age=Quantity(age), f_c=made.value, n=made.n, shape=shape))
            _range(c, made, shape, [float(f_c(row) or 0.0) for row in rows])
    found = {
        "E_c": c.summarise("E_c", "MPa", lambda r: r.values.get("E_c")),
        "f_ct": c.summarise("f_ct", "MPa", lambda r: r.values.get("f_ct")),
        "f_ct_split": c.summarise("f_ct_split", "MPa", splitting),
        "f_ct_fl": c.summarise("f_ct_fl", "MPa", flexural),
        "pull_off": pull_offs(c, SUBSTRATE, "the concrete"),
    }
    values = {k: v.value for k, v in found.items() if v is not None}
    depths = [float(r.values["depth"]) for r in c.rows if flexural_row(r) and "depth" in r.values]
    if "f_ct_fl" in values and depths:
        values["h_prism"] = Quantity(sum(depths) / len(depths))
    _ages(c, entry, values)
    return {"strength": tuple(tests) or None, "measured": values}


def _range(c: Collected, made: Summary, shape: str, values: list[float]) -> None:
    from cracktie.lab.coupons import acceptable_range

    most = acceptable_range(shape, len(values))
    spread = (max(values) - min(values)) / made.mean
    if most is not None and spread > most:
        told = (
            f"f_c, {made.group}: the {made.n} results lie {100 * spread:.1f} % apart, more than the {100 * most:.1f} % "
            "that careful testing of one batch leaves (ASTM C39/C39M, from memory)"
        )
        c.problems.append(Problem("warning", c.file, told, fix="look at the single results"))


def _age(row: CouponRow, c: Collected, entry: Concrete) -> float | None:
    """Age in days as stated, or from the date of the test and that of the cast."""
    stated = row.values.get("age")
    if "tested" not in row.texts:
        if stated is None:
            c.problems.append(row.problem("the age is missing", "add a column age [d], or tested with the date"))
        return None if stated is None else float(stated)
    try:
        tested = datetime.date.fromisoformat(row.texts["tested"][:10])
    except ValueError:
        c.problems.append(row.problem(f"tested = {row.texts['tested']!r} is no date", "write year-month-day"))
        return None
    if entry.cast is None:
        if stated is None:
            c.problems.append(row.problem("the date of the cast is missing", "write cast: in materials.yaml"))
        return None if stated is None else float(stated)
    days = (tested - datetime.date.fromisoformat(entry.cast[:10])).days
    if days <= 0:
        c.problems.append(row.problem(f"tested on {tested}, not after the cast on {entry.cast}", "correct one of them"))
        return None
    if stated is not None and abs(days - stated) > 1.0:
        told = f"age {stated:g} d, but {days} d lie between cast ({entry.cast}) and test ({tested})"
        c.problems.append(row.problem(told, "correct one of them"))
        return None
    return float(days) if stated is None else float(stated)


def _density(row: CouponRow, c: Collected) -> None:
    """A warning where the mass does not fit the sizes: a typed size that is wrong shows here."""
    from cracktie.lab.coupons import DENSITY_RANGE, density

    v = row.values
    if "mass" not in v or "length" not in v:
        return
    if "diameter" in v:
        area = math.pi * float(v["diameter"]) ** 2 / 4.0
    elif "width" in v and "depth" in v:
        area = float(v["width"] * v["depth"])
    else:
        return
    value, usual = density(float(v["mass"]), area, float(v["length"]))
    if not usual:
        low, high = DENSITY_RANGE
        told = f"mass and sizes make {value:.0f} kg/m3; plain concrete has {low:.0f} to {high:.0f}"
        c.problems.append(row.problem(told, "check mass, diameter and length", level="warning"))


def _slender(row: CouponRow, c: Collected) -> None:
    v = row.values
    if "diameter" in v and "length" in v and ("force" in v or "f_c" in v) and v["length"] > SLENDER * v["diameter"]:
        c.notes.append(
            f"{row.specimen}: length over diameter {v['length'] / v['diameter']:.2f} is above {SLENDER:g}, where ASTM "
            "C39/C39M asks for a shorter specimen (from memory); no factor is taken"
        )


def _ages(c: Collected, entry: Concrete, values: Mapping[str, Any]) -> None:
    keys = {"E_c": "E_c", "f_ct_split": "split_force", "f_ct_fl": "flexural_force", "f_ct": "f_ct"}
    for name, key in keys.items():
        ages = {float(r.values["age"]) for r in c.rows if "age" in r.values and (name in r.values or key in r.values)}
        if name in values and len(ages) > 1:
            c.notes.append(f"{name}: ages {', '.join(f'{a:g}' for a in sorted(ages))} d are taken together")


def f_c(row: CouponRow) -> Quantity | None:
    """Compressive strength of a row in MPa. Raises `CracktieError` for what is missing."""
    from cracktie.lab.coupons import slenderness_factor

    v = row.values
    if "f_c" in v:
        return v["f_c"]
    if "force" not in v:
        return None
    if "width" in v and "depth" in v:
        return product((v["force"], 1), (v["width"], -1), (v["depth"], -1))
    if "diameter" not in v:
        raise CracktieError("the force needs a diameter, or width and depth, to become a strength")
    factor = slenderness_factor(v["length"] / v["diameter"]) if "length" in v else 1.0
    return times(product((v["force"], 1), (v["diameter"], -2)), 4.0 / math.pi * factor)


def splitting(row: CouponRow) -> Quantity | None:
    """Splitting strength of a row in MPa, 2 F/(pi d l). Raises `CracktieError` for what is missing."""
    v = row.values
    if "f_ct_split" in v or "split_force" not in v:
        return v.get("f_ct_split")
    if "diameter" not in v or "length" not in v:
        raise CracktieError("the splitting force needs diameter and length to become a strength")
    return times(product((v["split_force"], 1), (v["diameter"], -1), (v["length"], -1)), 2.0 / math.pi)


def flexural_row(row: CouponRow) -> bool:
    """Whether a row is a prism in bending."""
    return "flexural_force" in row.values or "f_ct_fl" in row.values


def flexural(row: CouponRow) -> Quantity | None:
    """Flexural strength of a prism in MPa. Raises `CracktieError` for what is missing."""
    v = row.values
    if "f_ct_fl" in v or "flexural_force" not in v:
        return v.get("f_ct_fl")
    missing = [n for n in ("span", "width", "depth") if n not in v]
    if missing:
        raise CracktieError(f"the flexural force needs {', '.join(missing)} to become a strength")
    loading = row.texts.get("loading")
    if loading not in LOADINGS:
        raise CracktieError(
            f"the flexural force needs how the prism was loaded (a column loading: {', '.join(LOADINGS)})"
        )
    stress = product((v["flexural_force"], 1), (v["span"], 1), (v["width"], -1), (v["depth"], -2))
    return times(stress, LOADINGS[loading])


def _shape(row: CouponRow) -> str | None:
    """The named shape whose sizes a row has, within `SIZE_SLACK`; a cylinder of other sizes is 'cylinder'."""
    v = row.values
    for shape in SHAPES:
        kind, _, sizes = shape.partition(" ")
        wanted = [float(s) for s in sizes.split("x") if s]
        names = ("diameter", "length") if kind == "cylinder" else ("width", "depth") if kind == "cube" else ()
        wanted = wanted * 2 if kind == "cube" else wanted
        if names and wanted and all(n in v and abs(v[n] - w) <= SIZE_SLACK for n, w in zip(names, wanted, strict=True)):
            return shape
    return "cylinder" if "diameter" in v and "length" in v else None
