"""Bar coupons: from rows to yield strength, strength, modulus and A_gt of a bar."""

from __future__ import annotations

import math
from typing import Any

from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.coupon_summary import Collected, product, times
from cracktie.campaign.materials import Bar
from cracktie.errors import CracktieError
from cracktie.units import Quantity

YIELD = ("R_eH", "R_p0.2", "f_y")
"""Columns that give the yield strength, and how it is named: upper yield, 0.2 % proof stress, as stated."""
OTHER_AREA = 0.01
"""Share by which the area of the stresses may differ from that the section counts before it is told; our own."""


def bar_values(entry: Bar, c: Collected) -> dict[str, Any]:
    """Measured values, and whether the curve has a plateau where logs show it."""
    for row in c.rows:
        _order(row, c)
    found = {
        "f_y": c.summarise("f_y", "MPa", lambda r: yield_strength(entry, r)),
        "f_u": c.summarise("f_u", "MPa", lambda r: _stress(entry, r, "R_m", "f_u", "max_force")),
        "E_s": c.summarise("E_s", "MPa", lambda r: r.values.get("E_s")),
        "A_gt": c.summarise("A_gt", "-", lambda r: total_elongation(entry, r)),
    }
    kinds = sorted({k for r in c.rows for k in YIELD if k in r.values})
    if len(kinds) > 1 or kinds not in ([], ["f_y"]):
        names = {"R_eH": "upper yield stress R_eH", "R_p0.2": "0.2 % proof stress R_p0.2", "f_y": "as stated"}
        counts = [f"{names[k]} ({sum(k in r.values for r in c.rows)})" for k in kinds]
        c.notes.append(f"f_y: {', '.join(counts)}")
    if any("A_g" in r.values and "A_gt" not in r.values for r in c.rows):
        c.notes.append("A_gt = A_g + R_m/E with E = 200 GPa, in per cent A_g + R_m/2000 (ISO 15630-1, from memory)")
    _areas(entry, c)
    updates: dict[str, Any] = {"measured": {k: s.value for k, s in found.items() if s is not None}}
    seen = {r.texts["yielding"] for r in c.rows if "yielding" in r.texts}
    if seen:
        told = "rounded" if "rounded" in seen else "plateau"
        if "yielding" not in entry.model_fields_set:
            updates["yielding"] = told
            c.notes.append(f"curve of the bars: {told} (from their logs)")
        elif entry.yielding != told:
            c.notes.append(
                f"materials.yaml says yielding: {entry.yielding}, the logs show {' and '.join(sorted(seen))}"
            )
    return updates


def _order(row: CouponRow, c: Collected) -> None:
    v = row.values
    for low, high in (
        ("f_y", "f_u"),
        ("R_p0.2", "R_m"),
        ("R_eL", "R_eH"),
        ("yield_force", "max_force"),
        ("A_g", "A_gt"),
    ):
        if low in v and high in v and v[low] > v[high]:
            c.problems.append(row.problem(f"{low} is larger than {high}", "look for swapped columns"))


def yield_strength(entry: Bar, row: CouponRow) -> Quantity | None:
    """Yield strength of a row in MPa: R_eH, else R_p0.2, else as stated or from the force."""
    given = [k for k in YIELD if k in row.values]
    if "R_eH" in given and "f_y" in given:
        raise CracktieError("f_y and R_eH both state the yield strength: keep one of the columns")
    if given:
        return row.values[given[0]]
    return _stress(entry, row, "f_y", "f_y", "yield_force")


def total_elongation(entry: Bar, row: CouponRow) -> Quantity | None:
    """A_gt of a row as a ratio: as stated, or from the plastic part A_g. Raises `CracktieError` without R_m."""
    from cracktie.lab.tension import total_strain_at_max

    v = row.values
    if "A_gt" in v or "A_g" not in v:
        return v.get("A_gt")
    strength = _stress(entry, row, "R_m", "f_u", "max_force")
    if strength is None:
        raise CracktieError("A_g needs the strength of the bar to become A_gt (add a column R_m or max_force)")
    return Quantity(total_strain_at_max(float(v["A_g"]), float(strength)), v["A_g"].u)


def _stress(entry: Bar, row: CouponRow, trade: str, name: str, force: str) -> Quantity | None:
    v = row.values
    for key in (trade, name):
        if key in v:
            return v[key]
    return product((v[force], 1), (bar_area(entry, row), -1)) if force in v else None


def nominal_area(entry: Bar) -> float | None:
    """Area in mm2 that the section counts; None where materials.yaml states none."""
    if entry.area is not None:
        return float(entry.area)
    return None if entry.diameter is None else float(entry.diameter.area)


def bar_area(entry: Bar, row: CouponRow) -> Quantity:
    """Area of the stresses: as stated, from the diameter, nominal (ISO 15630-1, ASTM A370), else by mass."""
    v = row.values
    if "area" in v:
        return v["area"]
    if "diameter" in v:
        return times(product((v["diameter"], 2)), math.pi / 4.0)
    nominal = nominal_area(entry)
    if nominal is not None:
        return Quantity(nominal)
    if "mass" in v and "length" in v:
        return _by_mass(row)
    raise CracktieError("the force needs an area: a column area or diameter, or the bar's nominal diameter")


def _by_mass(row: CouponRow) -> Quantity:
    from cracktie.lab.tension import area_by_mass

    mass, length = row.values["mass"], row.values["length"]
    relative = product((mass, 1), (length, -1))
    return times(relative, area_by_mass(float(mass), float(length)) / float(relative))


def _areas(entry: Bar, c: Collected) -> None:
    nominal = nominal_area(entry)
    weighed = [float(_by_mass(r)) for r in c.rows if "mass" in r.values and "length" in r.values]
    if weighed:
        mean = sum(weighed) / len(weighed)
        beside = "" if nominal is None else f", {100 * (mean / nominal - 1):+.1f} % of the nominal one"
        c.notes.append(f"actual area by mass (7850 kg/m3): {mean:.4g} mm2{beside}; stresses stand on the nominal area")
    if nominal is None:
        return
    used = [r for r in c.rows if ("area" in r.values or "diameter" in r.values) and _from_force(r)]
    other = [r for r in used if abs(float(bar_area(entry, r)) / nominal - 1) > OTHER_AREA]
    if other:
        mean = sum(float(bar_area(entry, r)) for r in other) / len(other)
        c.notes.append(
            f"stresses of {len(other)} bars stand on {mean:.4g} mm2, the section counts {nominal:.4g} mm2: its yield "
            f"force is off by {100 * (nominal / mean - 1):+.1f} %"
        )


def _from_force(row: CouponRow) -> bool:
    return any(k in row.values for k in ("yield_force", "max_force"))
