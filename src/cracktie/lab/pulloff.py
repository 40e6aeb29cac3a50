"""Pull-off tests of bonded sheets and anchor pull-outs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from cracktie.errors import ModelInputError
from cracktie.lab.uncertainty import propagate

MODES: Mapping[str, str] = MappingProxyType(
    {
        "A": "bond of the fixture", "B": "within the FRP", "C": "between FRP and adhesive", "D": "within the adhesive",
        "E": "between adhesive and concrete", "F": "mixed, E and G", "G": "within the concrete",
    }
)  # fmt: skip
"""Failure modes of ASTM D7522/D7522M (from memory)."""


@dataclass(frozen=True)
class PullOff:
    """Pull-off stress in MPa with its standard uncertainty; only mode G measures the `substrate`, others bound it."""

    value: float
    u: float
    mode: str
    substrate: bool


def pull_off(force: float, diameter: float, mode: str, *, u_force: float = 0.01, u_diameter: float = 0.0) -> PullOff:
    """4 F/(pi d^2) of a cored disc (EN 1542, ASTM D7522; from memory); N, mm; `u_force` relative, `u_diameter` mm."""
    if mode not in MODES:
        raise ModelInputError(f"mode {mode!r} is none of {', '.join(MODES)}; look at what came off with the disc")
    if not (force > 0.0 and diameter > 0.0):
        raise ModelInputError(f"force {force:g} N and diameter {diameter:g} mm must be positive")
    found = propagate(
        lambda F, d: 4.0 * F / (math.pi * d**2), {"F": force, "d": diameter}, {"F": u_force * force, "d": u_diameter}
    )
    return PullOff(found.value, found.u, mode, mode == "G")
