"""Which mechanism governs a spike anchor over embedment and dowel diameter: arrays for a map, and the same as text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.anchorage.resistance import MECHANISMS, NOT_APPLICABLE, AnchorResistance, anchor_resistance
from cracktie.errors import ModelInputError

LETTERS: Mapping[str, str] = {
    "dowel cone": "C",
    "combined cone-pull-out": "K",
    "dowel pull-out": "P",
    "dowel rupture": "R",
    "dowel rupture at bend": "B",
    "fan debonding": "F",
    NOT_APPLICABLE: "-",
}


@dataclass(frozen=True)
class GoverningMap:
    """Weakest mechanism over a grid.

    `h_ef` (m,) and `d_a` (n,) in mm; `F_u` (m, n) in N; `mechanism` (m, n) words; `code` (m, n) place in `MECHANISMS`,
    -1 where not applicable. `result` holds every component over the grid.
    """

    h_ef: Any
    d_a: Any
    F_u: Any
    mechanism: Any
    code: Any
    result: AnchorResistance

    def table(self) -> str:
        """Text: a row an embedment, a column a dowel diameter, force in kN and a letter for the mechanism."""
        head = "h_ef [mm] \\ d_a [mm]"
        lines = ["  ".join([head, *(f"{d:>7g}" for d in self.d_a)])]
        for h, forces, words in zip(self.h_ef, self.F_u, self.mechanism, strict=True):
            cells = [_cell(f, str(w)) for f, w in zip(forces, words, strict=True)]
            lines.append("  ".join([f"{h:>{len(head)}g}", *cells]))
        met = [w for w in LETTERS if np.any(self.mechanism == w)]
        lines.append("force of one anchor in kN; " + ", ".join(f"{LETTERS[w]} {w}" for w in met))
        return "\n".join([*lines, *(f"note: {n}" for n in self.result.notes)])


def _cell(force: float, word: str) -> str:
    return f"{'':>5} {LETTERS[word]}" if not np.isfinite(force) else f"{force / 1000.0:5.1f} {LETTERS[word]}"


def governing_map(
    inputs: Mapping[str, Any], *, h_ef: Any, d_a: Any, clearance: float | None = None, **options: Any
) -> GoverningMap:
    """Map around one anchor (`inputs` as for `anchor_resistance`, single numbers).

    The hole follows the dowel with the same `clearance` (mm on the diameter; default that of the inputs), the fibre
    area with the square of its diameter (same share of fibre).
    `options` go to `anchor_resistance`; a measured resistance has no place here. Raises `ModelInputError`.
    """
    if options.get("resistance") is not None:
        raise ModelInputError("governing_map: a measured resistance belongs to one anchor, not to a map")
    depths, widths = np.atleast_1d(np.asarray(h_ef, float)), np.atleast_1d(np.asarray(d_a, float))
    if depths.ndim != 1 or widths.ndim != 1 or np.min(depths) <= 0.0 or np.min(widths) <= 0.0:
        raise ModelInputError("governing_map: h_ef and d_a are lists of lengths above 0 mm")
    gap = float(inputs["d_0"]) - float(inputs["d_a"]) if clearance is None else clearance
    area = inputs["A_a"] * (widths / float(inputs["d_a"])) ** 2
    grid = {
        **inputs,
        "h_ef": depths[:, None],
        "d_a": widths[None, :],
        "d_0": widths[None, :] + gap,
        "A_a": area[None, :],
    }
    result = anchor_resistance(grid, **options)
    code = np.full(result.mechanism.shape, -1)
    for place, word in enumerate(MECHANISMS):
        code[result.mechanism == word] = place
    return GoverningMap(depths, widths, result.F_u, result.mechanism, code, result)
