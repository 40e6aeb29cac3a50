"""What limits the stirrup term, in words: read from the inputs and steps of one run of a model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

YIELD = "stirrup yield"
CRUSHING = "web crushing"

Seen = Mapping[str, Any]
_SAME = 1.0 - 1e-9


def stirrup_yield(seen: Seen) -> str:
    """Documents that bound the sum elsewhere."""
    return YIELD


def by_section_limit(seen: Seen) -> str:
    """ACI 318: the truss against the largest stirrup term the section allows."""
    end = "" if "V_s_truss" in seen else "_lbf"
    return f"cap on V_s ({CRUSHING})" if seen[f"V_s_truss{end}"] > seen[f"V_s_max{end}"] else YIELD


def by_strut(seen: Seen) -> str:
    """Variable-angle truss: stirrups or struts, or both where the angle lets them meet."""
    steel, strut = ("V_s_truss", "V_max_strut") if "V_s_truss" in seen else ("tau_sy", "tau_max_strut")
    if seen[steel] > seen[strut] * (1.0 + 1e-6):
        return CRUSHING
    return f"{YIELD} with {CRUSHING}" if seen[steel] >= seen[strut] * (1.0 - 1e-6) else YIELD


def by_total(seen: Seen) -> str:
    """General methods that hold both shares: crushing of the web, or stirrups with aggregate interlock."""
    end = "" if "V_max_strut" in seen else "_kip"
    total = seen[f"V_c{end}"] + seen[f"V_s{end}"]
    return CRUSHING if total > seen[f"V_max_strut{end}"] * (1.0 + 1e-9) else f"{YIELD} with aggregate interlock"


def by_level(seen: Seen) -> str:
    """Model Code 2010, level III: its own sum, or level II above the strut limit."""
    held = seen["V_level3"] < seen["V_max_strut"] and seen["V_level3"] >= seen["V_level2"]
    return f"{YIELD} with aggregate interlock" if held else f"{YIELD} with {CRUSHING} (level II)"
