"""A bilinear law with parameters of the user, measured or assumed."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Applies, Ref, Status, Step, model, no_step


@model(
    "bond.own_bilinear",
    predicts="G_f",
    unit="N/mm",
    source=Ref("CRACKTIE", "bilinear law"),
    title="Bilinear bond-slip law with given parameters",
    status=Status("own", "area of a triangle; the parameters are the user's"),
    applies=(
        Applies(lambda i: i["slip_0"] > 0.0, "the slip at the largest stress must be above 0", "shape of the law"),
        Applies(lambda i: i["slip_f"] > i["slip_0"], "the end slip must lie beyond slip_0", "shape of the law"),
    ),
)
def law(*, tau_max: Any, slip_0: Any, slip_f: Any, step: Step = no_step) -> Any:
    """G_f in N/mm from `tau_max` in MPa and the slips in mm."""
    return step("G_f", tau_max * slip_f / 2.0, "N/mm", "area under the law")
