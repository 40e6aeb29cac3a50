"""Ranges of every assumption that is ours: what a study may vary, and what a sheet shows beside the value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class OwnRange:
    """Plausible range of one assumed coefficient in its unit, and where the range comes from.

    `stronger` tells which end makes the anchor stronger or stiffer: 'high', 'low', or 'neither' for an option that a
    band leaves at its default.
    """

    low: float
    high: float
    unit: str
    why: str
    stronger: str = "high"


_MU = OwnRange(
    0.0, 0.3, "-", "0 is safe; nothing published supports more (0.3 is a factor of 1.60 at 90 deg)", "neither"
)
_BOND = OwnRange(0.3, 0.6, "-", "bond in cracked over uncracked concrete differs between adhesives; from memory")

OWN_RANGES: Mapping[str, Mapping[str, OwnRange]] = {
    "anchor.own_cone": {
        "k_cracked": OwnRange(0.7, 1.0, "-", "7.7/11 of EN 1992-4 and 1/1.4 of ACI 318 in cracks, 1 far from them"),
        "mu": _MU,
    },
    "anchor.own_combined": {"k_cracked": _BOND, "mu": _MU},
    "anchor.own_bond": {"k_cracked": _BOND, "mu": _MU},
    "anchor.own_bend": {
        "far_bend": OwnRange(90.0, 180.0, "deg", "turn of a dowel onto the far face", "low"),
        "share_two_way": OwnRange(0.5, 1.0, "-", "fibres on the side of the strip, or all fibres"),
        "share_round": OwnRange(0.25, 1.0, "-", "a quarter of the disc, or all fibres"),
    },
    "anchor.own_fan_lap": {"tau_lap": OwnRange(4.0, 7.0, "MPa", "guess between sheet laps and pull tests")},
    "anchor.own_stiffness": {
        "k_bed": OwnRange(50.0, 200.0, "MPa/mm", "epoxy annulus of 1 to 3 mm with local cracking; a guess"),
        "l_0": OwnRange(0.0, 50.0, "mm", "transition from dowel to fan that is not bonded; a guess", "low"),
        "c_dowel": OwnRange(0.0, 1.0, "-", "path of the fibres inside the rounded edge; a guess", "low"),
    },
}
"""Model id -> coefficient -> range."""


def told(id: str, *names: str) -> str:
    """What a step says that rests on coefficients of ours: their names and ranges."""
    rows = [(n, OWN_RANGES[id][n]) for n in names]
    parts = [f"{n} {r.low:g} to {r.high:g}{'' if r.unit == '-' else f' {r.unit}'}" for n, r in rows]
    return f"our assumption, range of {', '.join(parts)}"


PUBLISHED: Mapping[str, Mapping[str, str]] = {
    "anchor.own_safe_pullout": {
        "k_cone": "KimSmith2010",
        "tau_low": "KimSmith2010",
        "tau_high": "KimSmith2010",
        "f_split": "KimSmith2010",
    },
    "anchor.own_cone": {"k_cone": "KimSmith2010", "ac": "ACI318_19"},
    "anchor.own_combined": {
        "tau_low": "KimSmith2010",
        "tau_high": "KimSmith2010",
        "f_split": "KimSmith2010",
        "tau_ref": "ACI318_19",
        "ac": "ACI318_19",
    },
    "anchor.own_bond": {"tau_ref": "ACI318_19", "ac": "ACI318_19"},
    "anchor.own_bend": {"slope": "JSCE_1997", "base": "JSCE_1997"},
}
"""Coefficients inside our models that are taken over from a source: model id -> coefficient -> bibliography key."""


@dataclass(frozen=True)
class PostPeak:
    """Fall of the force after the peak: over `soft_slip` mm, linearly, to `residual` times the peak; all ours."""

    soft_slip: float
    residual: float
    soft_range: tuple[float, float]
    residual_range: tuple[float, float]
    why: str


_PULL = "softening over 1 to 3 mm to friction of 0.2 to 0.4, trend from memory, medium confidence"
POST_PEAK: Mapping[str, PostPeak] = {
    "dowel cone": PostPeak(0.5, 0.0, (0.1, 2.0), (0.0, 0.2), "brittle; a guess"),
    "combined cone-pull-out": PostPeak(2.0, 0.3, (1.0, 3.0), (0.2, 0.4), _PULL),
    "dowel pull-out": PostPeak(2.0, 0.3, (1.0, 3.0), (0.2, 0.4), _PULL),
    "dowel rupture": PostPeak(0.1, 0.0, (0.05, 0.5), (0.0, 0.1), "sudden; a guess"),
    "dowel rupture at bend": PostPeak(0.1, 0.0, (0.05, 0.5), (0.0, 0.1), "sudden; a guess"),
    "fan debonding": PostPeak(0.5, 0.0, (0.1, 2.0), (0.0, 0.2), "brittle peeling of the fan; a guess"),
    "measured": PostPeak(0.1, 0.0, (0.05, 3.0), (0.0, 0.4), "the mechanism is not told, so the most brittle one"),
}
"""Mechanism -> softening."""
