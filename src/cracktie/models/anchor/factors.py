"""Edge, spacing, splitting and cracking factors of ACI 318-19 chapter 17, shared with our extension of other formulas.

The anchors of a row stand `s_a` apart in a line parallel to the nearest edge, `c_edge` from it; `n_a` of them pull at
once. A length beyond its critical value leaves the factor at 1.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Step


def row_area(*, radius: Any, c_edge: Any, s_a: Any, n_a: Any) -> Any:
    """Projected area in mm2 of a row: each anchor reaches `radius` mm, no further than the edge or half-way."""
    return (np.minimum(c_edge, radius) + radius) * (2.0 * radius + (n_a - 1.0) * np.minimum(s_a, 2.0 * radius))


def share_of_row(step: Step, area: str, *, radius: Any, c_edge: Any, s_a: Any, n_a: Any, where: str) -> Any:
    """Area of the row over that of as many single anchors, between 0 and 1; the area is recorded as `area` (mm2)."""
    found = step(area, row_area(radius=radius, c_edge=c_edge, s_a=s_a, n_a=n_a), "mm2", where)
    single = step(f"{area}0", (2.0 * radius) ** 2, "mm2", where)
    return found / (n_a * single)


def edge(*, c_edge: Any, radius: Any) -> Any:
    """0.7 + 0.3 c/c_cr, at most 1 (ACI 318-19 17.6.2.4 and 17.6.5.4)."""
    return np.minimum(0.7 + 0.3 * c_edge / radius, 1.0)


def splitting(*, c_edge: Any, radius: Any, h_ef: Any, ac: Any, cracked: bool, splitting_steel: bool) -> Any:
    """psi_cp of uncracked concrete without steel that controls splitting; 1 otherwise (17.6.2.6, 17.6.5.5).

    The critical edge distance is c_ac = `ac` h_ef; the lower bound `radius`/c_ac belongs to the rule.
    """
    if cracked or splitting_steel:
        return 1.0
    return np.minimum(np.maximum(c_edge, radius) / (ac * h_ef), 1.0)
