"""FRP coupons: force and stiffness per width first; stresses on the thickness of the system's stated convention."""

from __future__ import annotations

from typing import Any

from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.coupon_summary import Collected, Summary, Value, product, times
from cracktie.campaign.materials import FrpSystem, FrpValues
from cracktie.errors import CracktieError, Problem
from cracktie.stats.fractile import FLOOR, GUARANTEED_TESTS, five_percent
from cracktie.units import Quantity

FAILURES = {
    "gauge": "between the grips", "grip": "at the grip", "tab": "at the tab", "slip": "by slip in the grip",
    "machine": "with a fault of the test",
}  # fmt: skip
"""Where a coupon failed; only the first counts (ASTM D7565/D7565M, scope)."""
AREAS = {
    "G": "gauge", "I": "grip", "A": "grip", "W": "grip", "M": "several places", "V": "various places",
    "U": "a place not known",
}  # fmt: skip
"""Second letter of a failure code of ASTM D3039/D3039M (from memory): inside, at, within one width of the grip ..."""
_TYPES, _PLACES = "ADGLMSXO", "BTLRMVU"
SAME_THICKNESS = 0.05
"""Share by which thicknesses of one file may differ before two conventions are suspected; our own."""


def failure_place(text: str) -> str:
    """'gauge', or words for where else a coupon failed; raises `CracktieError` for a word or code not known."""
    if text in FAILURES:
        return text if text == "gauge" else FAILURES[text]
    if len(text) == 3 and text.isupper() and text[0] in _TYPES and text[1] in AREAS and text[2] in _PLACES:
        place = AREAS[text[1]]
        return "gauge" if place == "gauge" else f"{text}, at {place}" if place == "grip" else f"{text}, in {place}"
    raise CracktieError(
        f"the failure {text!r} is not known; possible: {', '.join(FAILURES)}, or a code of three letters such as LGM "
        "(ASTM D3039)"
    )


def frp_values(entry: FrpSystem, c: Collected) -> dict[str, Any]:
    """Mean, characteristic and guaranteed values of a system, stresses on its own thickness."""
    p = c.summarise("force_per_width", "N/mm", per_width("force_per_width", "f_fu", "max_force"))
    K = c.summarise("stiffness_per_width", "N/mm", per_width("stiffness_per_width", "E_f", None))
    eps = c.summarise("eps_fu", "-", lambda r: r.values.get("eps_fu"))
    if p is None or K is None:
        fix = "give max_force and width (or force_per_width) and stiffness_per_width, or f_fu, E_f and thickness"
        c.problems.append(Problem("error", c.file, "force and stiffness per width are needed", fix=fix))
        return {}
    if not _told(entry, c, p, K):
        return {}
    t = 1.0 / float(entry.thickness)
    strain = None if eps is None else eps.value
    E_f = times(K.value, t)
    updates: dict[str, Any] = {"mean": _values(E_f, times(p.value, t), strain)}
    if entry.characteristic is None and (low := _fractile(entry, c, p)) is not None:
        updates["characteristic"] = _values(E_f, Quantity(low * t), None)
    if p.guaranteed is not None and entry.guaranteed is None:
        if p.n >= GUARANTEED_TESTS:
            updates["guaranteed"] = _values(E_f, Quantity(p.guaranteed * t), None)
        else:
            c.notes.append(
                f"no guaranteed value is taken from {p.n} coupons ({GUARANTEED_TESTS} are asked for); mean - 3 s would "
                f"be {p.guaranteed * t:.0f} MPa"
            )
    return updates


def _fractile(entry: FrpSystem, c: Collected, p: Summary) -> float | None:
    """5 % fractile of the force per width, N/mm, with its rule told; None for too few coupons."""
    t = float(entry.thickness)
    rule = "characteristic strength: 5 % fractile of EN 1990 D.7"
    if entry.known_cv is not None:
        low = five_percent(p.mean, p.s or 0.0, p.n, known_cv=float(entry.known_cv))
        c.notes.append(f"{rule}, V_X known as {entry.known_cv:g} ({entry.known_cv_source}), normal ({low / t:.0f} MPa)")
        if p.cv is not None and p.cv > entry.known_cv:
            c.notes.append(f"these coupons scatter by {p.cv:.3f}, more than the known_cv of {entry.known_cv:g}")
        return low
    if p.fractile is not None:
        c.notes.append(
            f"{rule}, V_X not less than {FLOOR:g}, normal ({p.fractile / t:.0f} MPa; log-normal "
            f"{(p.fractile_lognormal or 0.0) / t:.0f} MPa)"
        )
    return p.fractile


def _told(entry: FrpSystem, c: Collected, p: Summary, K: Summary) -> bool:
    """Remarks on failure places and thickness conventions; false for a strain at failure that no FRP has."""
    silent = sum("failure" not in r.texts for r in c.rows)
    if silent:
        c.notes.append(
            f"{silent} of {len(c.rows)} coupons do not say where they failed (failure): taken as between the grips"
        )
    thickness = f"{float(entry.thickness):g} mm, the {entry.convention} thickness of materials.yaml"
    c.notes.append(f"stresses on {thickness}; only forces per width compare between conventions")
    used = sorted({float(r.values["thickness"]) for r in c.rows if "thickness" in r.values})
    if used and used[-1] > used[0] * (1 + SAME_THICKNESS):
        rows = [r for r in c.rows if "thickness" in r.values and ("f_fu" in r.values or "E_f" in r.values)]
        for row in rows[1:]:
            if abs(row.values["thickness"] / rows[0].values["thickness"] - 1) > SAME_THICKNESS:
                c.problems.append(row.problem(
                    f"its thickness of {row.values['thickness']:g} mm is not that of {rows[0].specimen} "
                    f"({rows[0].values['thickness']:g} mm): two thickness conventions in one file?",
                    "check that its stresses were computed on it; forces per width need no thickness", level="warning",
                ))  # fmt: skip
                break
    strain = p.mean / K.mean
    possible = 0.001 <= strain <= 0.08
    if not possible:
        told = f"force over stiffness makes a strain of {1e6 * strain:.0f} um/m at failure, which no FRP has"
        fix = "look for a slip of a unit or a thickness, or for swapped columns"
        c.problems.append(Problem("error", c.file, told, fix=fix))
    return possible


def per_width(direct: str, stress: str, force: str | None) -> Value:
    """How a row gives a force per width: direct, from a force and the width, or from a stress and its thickness."""

    def of(row: CouponRow) -> Quantity | None:
        v = row.values
        if direct in v:
            return v[direct]
        if force is not None and force in v:
            if "width" not in v:
                raise CracktieError(f"{force} needs a width to become a force per width")
            return product((v[force], 1), (v["width"], -1))
        if stress not in v:
            return None
        if "thickness" not in v:
            raise CracktieError(f"{stress} means nothing without the thickness it was computed on (add thickness [mm])")
        return product((v[stress], 1), (v["thickness"], 1))

    return of


def _values(E_f: Quantity, f_fu: Quantity, eps_fu: Quantity | None) -> FrpValues:
    return FrpValues(E_f=E_f, f_fu=f_fu, eps_fu=eps_fu)
