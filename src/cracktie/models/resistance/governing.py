"""What limits the sum, in words: read from the inputs and steps of one run and from the words of its terms (`said`)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

CRUSHING = "web crushing"
CONCRETE = "concrete term alone"

Seen = Mapping[str, Any]
_SAME = 1.0 - 1e-9


def tension(seen: Seen) -> str:
    """A sum without bound of its own: diagonal tension, with what its terms say."""
    words = [word for word in seen["said"].values() if word]
    return "diagonal tension" + (f": {', '.join(words)}" if words else "")


def by_common_cap(seen: Seen) -> str:
    """ACI 440.2R: V_s + V_f against their common cap."""
    if seen["V_sf"] > 0.0 and seen["V_sf"] >= seen["V_sf_max"] * _SAME:
        return f"cap on V_s + V_f ({CRUSHING})"
    return tension(seen)


def by_bound(seen: Seen) -> str:
    """A sum against the crushing of the web."""
    return CRUSHING if seen["V_R"] >= seen["V_max_strut"] * _SAME else tension(seen)


def larger(seen: Seen) -> str:
    """The larger of two branches that are never added."""
    if seen["V_c"] >= seen["V_s"]:
        return f"{CONCRETE} (V_Rd,c)"
    return str(seen["said"].get("V_s") or "stirrups")


def total(seen: Seen) -> str:
    """One expression for concrete and stirrups: what that one says; without stirrups the concrete term."""
    return str(seen["said"].get("V_cs") or CONCRETE)


def by_common_angle(seen: Seen) -> str:
    """Stirrups and FRP against the struts at one angle, or the lower branch of the host code."""
    if seen["V_c"] >= seen["V_truss"]:
        return f"{CONCRETE} (V_Rd,c of the host)"
    pull = seen["V_s"] + seen["V_f"]
    if pull > seen["V_max_strut"] * (1.0 + 1e-6):
        return CRUSHING
    words = [*(["stirrup yield"] if seen["V_s"] > 0.0 else []), *(w for w in seen["said"].values() if w)]
    both = f" with {CRUSHING}" if pull >= seen["V_max_strut"] * (1.0 - 1e-6) else ""
    return ", ".join(words) + both


def by_general_method(seen: Seen) -> str:
    """Shares at the strain of the whole shear force: crushing of the web, or tension across the crack."""
    end = "" if "V_max_strut" in seen else "_kip"
    if seen[f"V_root{end}"] > seen[f"V_max_strut{end}"] * (1.0 + 1e-9):
        return CRUSHING
    steel = ["stirrup yield"] if seen["A_sw"] > 0.0 else []
    words = [*steel, *(w for w in seen["said"].values() if w)]
    return f"{', '.join(words)} with aggregate interlock" if words else CONCRETE
