"""What limits the FRP term, in words: read from the coefficients, inputs and steps of one run of a model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

DEBONDING = "FRP debonding"
RUPTURE = "FRP rupture"
STRAIN_CAP = "FRP strain cap"
NO_LENGTH = "no FRP share: the bond length exceeds the height"

Seen = Mapping[str, Any]
_SAME = 1.0 - 1e-9


def _closed(seen: Seen) -> bool:
    return seen["scheme"] == "full" or (seen["scheme"] == "u" and bool(seen["anchored"]))


def by_strain_cap(seen: Seen) -> str:
    """ACI 440.2R: the bond strain against the largest strain the document allows."""
    if seen["eps_fe"] <= 0.0:
        return NO_LENGTH
    return STRAIN_CAP if seen["eps_fe"] >= seen["eps_fe_cap"] * _SAME else DEBONDING


def by_bond_reduction(seen: Seen) -> str:
    """CSA S6: as ACI 440.2R, with its cap read from the coefficients."""
    if seen["eps_fe"] <= 0.0:
        return NO_LENGTH
    cap = min(seen["eps_max"], seen["k_cap"] * seen["eps_fu"])
    return STRAIN_CAP if seen["eps_fe"] >= cap * _SAME else DEBONDING


def fixed_strain(seen: Seen) -> str:
    """CSA S806: one strain a scheme."""
    return "the document's fixed FRP strain"


def rupture(seen: Seen) -> str:
    """JSCE: closed wraps that rupture."""
    return RUPTURE


def by_stress(seen: Seen) -> str:
    """Chen and Teng: the lesser of rupture and debonding stress."""
    return DEBONDING if seen.get("f_fe", seen["f_fe_rupture"]) < seen["f_fe_rupture"] * _SAME else RUPTURE


def by_bond_and_corner(seen: Seen) -> str:
    """CNR-DT 200: debonding, to which a closed wrap adds what its corners carry, never beyond rupture."""
    if seen["f_fe"] >= seen.get("f_fd", seen["f_fu"]) * _SAME:
        return RUPTURE
    if seen["f_fe"] <= 0.0:
        return NO_LENGTH
    return "FRP rupture at the corner after debonding" if seen.get("more_closed", 0.0) > 0.0 else DEBONDING


def by_strain_law(seen: Seen) -> str:
    """fib Bulletin 14: peeling or fracture, and in design the cap of the strain."""
    if seen["form"] == "design" and seen["eps_fe"] > seen["eps_max"]:
        return STRAIN_CAP
    if "eps_peeling" in seen and seen["eps_peeling"] < seen["eps_rupture"]:
        return DEBONDING
    return RUPTURE


def by_ratio(seen: Seen) -> str:
    """Khalifa and those after him: bond ratio, rupture ratio or loss of aggregate interlock."""
    bond = seen.get("R_bond")
    if bond is not None:
        bond = bond * seen.get("R_star", 1.0)
        if bond <= 0.0:
            return "no FRP share: no bonded width, or stirrups too stiff" if "R_star" in seen else NO_LENGTH
        if bond < seen["R_closed"]:
            return DEBONDING
    return "loss of aggregate interlock" if seen["R_closed"] < seen["R_rupture"] * _SAME else RUPTURE


def by_bond_strain(seen: Seen) -> str:
    """Mofidi and Chaallal: a bond strain, never beyond rupture."""
    return RUPTURE if seen["eps_fe"] >= seen["eps_fu"] * _SAME else DEBONDING


def by_strength_ratio(seen: Seen) -> str:
    """NCHRP 678: one ratio for anchored and closed wraps, another for free ends, and a cap of the strain."""
    stress, strength = ("f_fe", "f_fu") if "f_fe" in seen else ("f_fe_ksi", "f_fu_ksi")
    if seen[stress] < seen["R_f"] * seen[strength] * _SAME:
        return STRAIN_CAP
    return RUPTURE if _closed(seen) else DEBONDING


def by_strain_limits(seen: Seen) -> str:
    """Technical Report 55: half the ultimate strain, the debonding strain or the cap of the strain."""
    if seen.get("h_fe", 1.0) <= 0.0:
        return NO_LENGTH
    if seen["eps_fe"] >= seen.get("eps_debonding", float("inf")) * _SAME:
        return DEBONDING
    return STRAIN_CAP if seen["eps_fe"] >= seen["eps_max"] * _SAME else "half the ultimate FRP strain"
