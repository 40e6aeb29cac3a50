"""Fuchs, Eligehausen and Breen 1995: mean concrete cone of post-installed metal anchors, for comparison."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.anchor.hosts import BLIND_END, HOSTS


@model(
    "anchor.fuchs_1995",
    predicts="N_cc",
    unit="N",
    source=Ref("Fuchs_1995", "concrete capacity design method"),
    title="Fuchs, Eligehausen and Breen 1995, mean concrete cone",
    status=Status("memory", "13.5 (post-installed) and 15.5 (cast-in headed) recalled with high confidence"),
    applies=(BLIND_END,),
    choices={"host": HOSTS},
)
def cone(*, h_ef: Any, f_cube: Any, host: str, k_nc: float = 13.5, step: Step = no_step) -> Any:
    """N_cc in N of a single headed or undercut anchor far from edges. `h_ef` mm, `f_cube` MPa of 200 mm CUBES.

    A bonded dowel without a head reaches less: an upper yardstick, not a resistance of FRP anchors. `k_nc` 15.5 for
    cast-in heads.
    """
    return step("N_cc", k_nc * np.sqrt(f_cube) * h_ef**1.5, "N", "concrete capacity design method")
