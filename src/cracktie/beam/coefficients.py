"""Every number in the mechanics of a cracked, wrapped beam that is no property of the beam: value, range, why."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cracktie.errors import ModelInputError


@dataclass(frozen=True)
class Coefficient:
    """A named number that may be changed. `low` to `high` is the range a study varies; all of them are our own.

    `least` and `most` bound what is possible at all.
    """

    value: float
    low: float
    high: float
    unit: str
    why: str
    least: float = 0.0
    most: float = np.inf


COEFFICIENTS: Mapping[str, Coefficient] = {
    "k_tau": Coefficient(
        0.6, 0.4, 1.0, "-",
        "bond stress on a cracked web over that of pull tests, at the same energy; found with theta on 152 published "
        "side and U-wrapped beams, on a ridge with it (0.4 at 32.5 deg to 0.8 at 40 deg fit alike)", 1e-3,
    ),
    "k_G": Coefficient(1.0, 0.7, 1.4, "-", "bond energy over that of Chen and Teng 2001", 1e-3),
    "theta": Coefficient(
        37.5, 30.0, 45.0, "deg", "crack angle where none is measured or stated; found together with k_tau", 10.0, 80.0
    ),
    "m_open": Coefficient(
        0.5, 0.25, 1.0, "-",
        "exponent of the opening over the height: 1 rotation about the tip, 0 parallel; V_f hardly tells, strains at "
        "large openings of anchored beams speak for 1 or more",
    ),
    "tip": Coefficient(0.1, 0.0, 0.2, "-", "crack tip below the top over d, as Chen and Teng 2003", 0.0, 0.9),
    "slide": Coefficient(0.0, 0.0, 0.5, "-", "sliding over opening of the crack; 0 unless image data give it", -2.0),
    "w_0": Coefficient(
        0.6, 0.4, 1.0, "mm",
        "mean opening up to which the concrete term is whole; found on unanchored beams, which say little beyond 1 mm",
    ),
    "w_0_slow": Coefficient(
        2.5, 2.0, 3.0, "mm", "the same for the upper end of the band of anchored beams: published gains ask for it"
    ),
    "k_F": Coefficient(
        1.0, 0.6, 1.8, "-",
        "resistance of an anchor over that of the anchor models; a guess", 0.0
    ),
    "k_bond_w": Coefficient(4.0, 2.0, 6.0, "-", "bond stress of ribbed stirrups over the tensile strength", 1e-3),
    "k_plain": Coefficient(1 / 3, 0.2, 0.5, "-", "bond of plain stirrups over that of ribbed ones", 1e-3, 1.0),
    "k_rup": Coefficient(1.0, 0.6, 1.0, "-", "strength of a strip at the crack over its coupon strength", 1e-3, 1.5),
    "k_cor": Coefficient(
        1.0, 0.3, 1.0, "-",
        "strength at the corner of a wrap over the coupon strength: of no weight in U-wraps, decisive in full wraps",
        1e-3, 1.5,
    ),
    "rotation": Coefficient(
        0.010, 0.004, 0.012, "-", "largest opening over crack length; acts in anchored and full wraps", 1e-4, 0.1
    ),
    "friction": Coefficient(
        0.0, 0.0, 0.1, "-", "friction after debonding over bond strength; of held strips only", 0.0, 0.9
    ),
}  # fmt: skip
"""Name -> coefficient."""

UNIT_OF = {name: c.unit for name, c in COEFFICIENTS.items()}


def chosen(changed: Mapping[str, object] | None) -> dict[str, object]:
    """All coefficients with the changed ones in place (numbers or arrays); raises `ModelInputError`."""
    made: dict[str, object] = {name: c.value for name, c in COEFFICIENTS.items()}
    for name, value in (changed or {}).items():
        if name not in COEFFICIENTS:
            near = difflib.get_close_matches(name, COEFFICIENTS, 2)
            raise ModelInputError(f"no coefficient {name!r}; there are {', '.join(near or COEFFICIENTS)}")
        c = COEFFICIENTS[name]
        try:
            given = np.asarray(value, dtype=float)
        except (TypeError, ValueError):
            raise ModelInputError(f"coefficient {name} = {value!r} is no number") from None
        if not np.all(np.isfinite(given) & (given >= c.least) & (given <= c.most)):
            bad = given[~(np.isfinite(given) & (given >= c.least) & (given <= c.most))].ravel()[0]
            unit = "" if c.unit == "-" else f" {c.unit}"
            above = f" and {c.most:g}{unit}" if np.isfinite(c.most) else " and infinity"
            raise ModelInputError(
                f"coefficient {name} = {bad:g}{unit}; possible between {c.least:g}{unit}{above} "
                f"(plausible {c.low:g} to {c.high:g})"
            )
        made[name] = value
    return made
