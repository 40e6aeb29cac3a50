"""Lap of the fan on the sheet: mean bond stress over the part of the fan that lies on the strip."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.anchor.hosts import FAN_FORMS
from cracktie.models.anchor.own_bend import OPENS
from cracktie.models.anchor.own_ranges import told


@model(
    "anchor.own_fan_lap",
    predicts="F_fan",
    unit="N",
    source=Ref("CRACKTIE", "lap of fan and sheet"),
    title="Lap of fan and sheet (own)",
    status=Status("own", "geometry of the overlap with an assumed mean stress; no formula is published that we know"),
    applies=(OPENS,),
    choices={"fan_form": FAN_FORMS},
)
def lap(*, w_a: Any, l_fan: Any, fan_angle: Any, fan_form: str, tau_lap: float = 5.0, step: Step = no_step) -> Any:
    """F_fan in N. `w_a` width of strip for each anchor, `l_fan` length of the fan on the strip from the hole, mm.

    Ours: `tau_lap` 5, range 4 to 7 MPa, a guess of the mean stress over the overlap. The fan is a triangle of the full
    opening angle (deg) cut off at the edges of the strip; a round fan is the half disc towards the strip, cut off too.
    """
    where = "geometry"
    if fan_form == "round":
        half = w_a / 2.0
        part = np.minimum(half / l_fan, 1.0)
        area = l_fan**2 * (part * np.sqrt(1.0 - part**2) + np.arcsin(part))
    else:
        slope = step("tan_fan", np.tan(np.radians(fan_angle) / 2.0), "-", where)
        l_1 = step("l_1", w_a / (2.0 * slope), "mm", where)
        area = np.where(l_fan > l_1, w_a * (l_fan - l_1 / 2.0), l_fan**2 * slope)
    A_ov = step("A_ov", area, "mm2", where)
    return step("F_fan", tau_lap * A_ov, "N", told("anchor.own_fan_lap", "tau_lap"))
