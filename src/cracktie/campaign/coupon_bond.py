"""Bond coupons: pull-off tests with their failure modes, adhesives, pull-out tests of spike anchors."""

from __future__ import annotations

import math
from typing import Any

from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.coupon_summary import ANCHOR_CONFIDENCE, Collected, product, times
from cracktie.campaign.materials import ANCHOR_MODES, CONCRETE_MODES, Adhesive
from cracktie.errors import CracktieError
from cracktie.units import Quantity

INTERFACE = ("C", "D", "E")
"""Pull-off modes (letters of `lab.pulloff.MODES`) in which the adhesive or its bond to the concrete gave way."""
SUBSTRATE = ("G",)
"""Pull-off modes in which the concrete gave way."""


def pull_off_stress(row: CouponRow) -> Quantity | None:
    """Stress of a pull-off test in MPa; None for a row of another test. Raises `CracktieError` for what is missing."""
    from cracktie.lab.pulloff import pull_off

    v = row.values
    if "pull_off" not in v and "pull_off_force" not in v:
        return None
    if "mode" not in row.texts:
        raise CracktieError("a pull-off test says nothing without its failure mode (add a column mode, A to G)")
    if "pull_off" in v:
        pull_off(1.0, 1.0, row.texts["mode"])  # judges the letter
        return v["pull_off"]
    force, size = v["pull_off_force"], v.get("diameter")
    if size is None:
        raise CracktieError("pull_off_force needs the diameter of the disc (add a column diameter)")
    found = pull_off(
        float(force), float(size), row.texts["mode"], u_force=(force.u or 0.0) / float(force), u_diameter=size.u or 0.0
    )
    return Quantity(found.value, found.u or None)


def pull_offs(c: Collected, counted: tuple[str, ...], what: str) -> Any:
    """Summary of the pull-off tests that failed in the `counted` modes; None where there is none.

    Another mode shows only that the stress of what is asked for is at least as large: such a test is left out of the
    mean, which errs to the low side, and named in a note.
    """
    tests = [(row, stress) for row in c.rows if (stress := c.one(row, pull_off_stress)) is not None]
    if not tests:
        return None
    kept = [row for row, _ in tests if row.texts["mode"] in counted]
    others = [(row, stress) for row, stress in tests if row.texts["mode"] not in counted]
    if others:
        told = ", ".join(f"{row.specimen} ({row.texts['mode']}, >= {stress:.2f} MPa)" for row, stress in others)
        c.notes.append(f"pull-off of {what}: failed elsewhere, so lower bounds that the mean leaves out: {told}")
    if not kept:
        c.notes.append(f"pull-off of {what}: no test failed there (modes {', '.join(counted)}), so no mean is taken")
        return None
    return c.summarise("pull_off", "MPa", pull_off_stress, rows=kept, group=f"mode {', '.join(counted)}")


def adhesive_values(entry: Adhesive, c: Collected) -> dict[str, Any]:
    """Strength, modulus, pull-off strength and glass transition temperature of an adhesive."""
    found = {
        "f_t": c.summarise("f_t", "MPa", _adhesive_strength),
        "E_a": c.summarise("E_a", "MPa", lambda r: r.values.get("E_a")),
        "pull_off": pull_offs(c, INTERFACE, "the adhesive and its bond"),
    }
    made: dict[str, Any] = {k: s.value for k, s in found.items() if s is not None}
    softened = [r.values["T_g"] for r in c.rows if "T_g" in r.values]
    if softened:
        made["T_g"] = Quantity(math.fsum(softened) / len(softened))
    return made


def _adhesive_strength(row: CouponRow) -> Quantity | None:
    v = row.values
    if "f_t" in v or "max_force" not in v:
        return v.get("f_t")
    if "area" in v:
        return product((v["max_force"], 1), (v["area"], -1))
    if "width" not in v or "thickness" not in v:
        raise CracktieError("max_force needs an area, or width and thickness, to become a strength")
    return product((v["max_force"], 1), (v["width"], -1), (v["thickness"], -1))


def anchors(entry: Any, c: Collected) -> dict[str, Any]:
    """Mean resistance of one anchor over all modes: whichever came first is the resistance; each mode beside it.

    Cones are brought to the mean concrete strength of the tests by the root of the ratio, other modes stay as tested.
    The characteristic value is the lesser of the 5 % fractile at 90 % confidence and that of EN 1990 D.7.
    """
    from cracktie.stats.fractile import FLOOR

    c.problems += [
        row.problem(
            f"the mode {mode!r} is not known", f"possible: {', '.join(ANCHOR_MODES)}; a test fault goes into `excluded`"
        )
        for row in c.rows
        if (mode := row.texts.get("mode", "")) not in ANCHOR_MODES
    ]
    concrete = c.summarise("f_c", "MPa", lambda row: row.values.get("f_c"))
    reference = None if concrete is None else concrete.mean

    def force(row: CouponRow) -> Quantity | None:
        one = row.values.get("force")
        if one is None or reference is None or row.texts.get("mode") not in CONCRETE_MODES or "f_c" not in row.values:
            return one
        return times(one, math.sqrt(reference / row.values["f_c"]))

    made = c.summarise("resistance", "N", force, anchors=True)
    if made is None:
        return {}
    by_mode: dict[str, list[CouponRow]] = {}
    for row in c.rows:
        if "force" in row.values:
            by_mode.setdefault(row.texts.get("mode", ""), []).append(row)
    if len(by_mode) > 1:
        for mode, rows in by_mode.items():
            c.summarise("resistance", "N", force, rows=rows, group=mode)
        c.notes.append("the mean is taken over all modes: the weakest mechanism of each anchor is its resistance")
    cones = [r for mode in CONCRETE_MODES for r in by_mode.get(mode, ())]
    if (
        cones
        and reference is not None
        and any(abs(r.values.get("f_c", reference) / reference - 1) > 1e-6 for r in cones)
    ):
        c.notes.append(
            f"cones are brought to f_c = {reference:.1f} MPa by the root of the ratio; other modes as tested"
        )
    if cones and (lacking := [r.specimen for r in cones if "f_c" not in r.values]):
        c.notes.append(f"no f_c of the block for {', '.join(lacking)}: cones are not brought to one strength")
    low = None
    if made.fractile is not None and made.fractile_90 is not None:
        low = min(made.fractile, made.fractile_90)
        c.notes.append(
            f"characteristic {low / 1000:.1f} kN: the lesser of the 5 % fractile at {100 * ANCHOR_CONFIDENCE:.0f} % "
            f"confidence ({made.fractile_90 / 1000:.1f} kN, used for anchors) and that of EN 1990 D.7 with V_X not "
            f"less than {FLOOR:g} ({made.fractile / 1000:.1f} kN), normal"
        )
        if low <= 0.0:
            c.notes.append("the scatter is too large for a characteristic value; test more anchors")
            low = None
    most = max(by_mode, key=lambda mode: len(by_mode[mode]))
    kept = None if low is None or entry.characteristic is not None else Quantity(low)
    strength = None if concrete is None or entry.f_c is not None else Quantity(concrete.mean)
    return {"resistance": made.value, "n": made.n, "mode": most, "characteristic": kept, "f_c": strength}
