"""JSCE 1997: strength of bent FRP bars, the factor used for the fibres of a dowel at the edge of its hole."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step

SLOPE = 0.05
BASE = 0.30
_WHERE = "strength of bent portions"


@model(
    "anchor.jsce_1997.bend",
    predicts="kappa_90",
    unit="-",
    source=Ref("JSCE_1997", _WHERE),
    title="JSCE 1997, strength of a bent bar over that of a straight one",
    status=(
        Status("memory", "0.05 r/d + 0.3 recalled with high confidence", {"form": "design"}),
        Status("doubtful", "slope 0.09 of the mean form recalled with medium confidence (0.092 too)", {"form": "test"}),
    ),
)
def bend(
    *,
    r_edge: Any,
    d_a: Any,
    form: str,
    slope: float = SLOPE,
    slope_mean: float = 0.09,
    base: float = BASE,
    step: Step = no_step,
) -> Any:
    """kappa_90. `r_edge` inside radius of the bend, `d_a` diameter, mm. The design form is a characteristic value.

    Made for bars of internal reinforcement: curved bars have been tested down to 25 % of their straight strength, below
    this formula (Imjai and others 2020, abstract), while a spike anchor of AMR 2 that breaks its strip needs 50 % at
    r/d of about 0.8 (abstract of Shekarchi and others), above it. It is an analogy either way.
    """
    k = slope if form == "design" else slope_mean
    return step("kappa_90", np.minimum(k * r_edge / d_a + base, 1.0), "-", _WHERE)
