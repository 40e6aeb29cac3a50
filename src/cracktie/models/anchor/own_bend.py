"""Rupture of the fibres at the bend between dowel and fan: bend factor, angle of the bend, spread of the fan."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step
from cracktie.models.anchor import jsce_1997
from cracktie.models.anchor.hosts import FAN_FORMS, HOSTS
from cracktie.models.anchor.own_ranges import told

OPENS = Applies(
    lambda i: (np.asarray(i["fan_angle"]) > 0.0) & (np.asarray(i["fan_angle"]) <= 180.0),
    "full opening angle of the fan above 0 and at most 180 deg",
    "geometry",
)

_ID = "anchor.own_bend"


@model(
    _ID,
    predicts="F_fb",
    unit="N",
    source=Ref("CRACKTIE", "rupture of the fibres at the bend"),
    title="Rupture of the fibres at the bend (own)",
    status=Status(
        "own",
        "JSCE factor of bent bars by analogy, linear in the bend angle, fan by the mean of cos3; only the trends are "
        "published",
    ),
    limits=(Limit("theta_b", 0.0, 90.0, "beyond 90 deg the factor of 90 deg stands; no test known to us"),),
    applies=(OPENS,),
    choices={"host": HOSTS, "fan_form": FAN_FORMS},
)
def bend(
    *,
    A_a: Any,
    f_fa: Any,
    d_a: Any,
    r_edge: Any,
    theta_b: Any,
    fan_angle: Any,
    host: str,
    fan_form: str,
    slope: float = jsce_1997.SLOPE,
    base: float = jsce_1997.BASE,
    far_bend: float = 90.0,
    share_two_way: float = 0.5,
    share_round: float = 0.5,
    step: Step = no_step,
) -> Any:
    """F_fb in N. `A_a` dry-fibre area mm2, `f_fa` MPa of flat coupons; `r_edge`, `d_a` mm; angles deg.

    Ours: kappa_b = 1 - (1 - kappa_90) theta_b/90, and kappa_90 from 90 deg on. A dowel through flange or web turns onto
    the far face as well: `far_bend` 90, range 90 to 180 deg, is the least bend counted there. The fan: if its fibres
    spread evenly within the half angle w and move with the sheet, the mean of cos3 is (sin w - sin3 w/3)/w. `share`:
    fibres of a fan spread to both sides, `share_two_way` 0.5, range 0.5 to 1, or all around, `share_round` 0.5, range
    0.25 to 1, that lie towards the strip. kappa_90 as in `anchor.jsce_1997.bend`, characteristic form.
    """
    ours = "our assumption"
    kappa_90 = jsce_1997.bend(r_edge=r_edge, d_a=d_a, form="design", slope=slope, base=base, step=step)
    far = host in ("through_flange", "through_web")
    turn = np.maximum(theta_b, far_bend) if far else theta_b
    kappa_b = step(
        "kappa_b", 1.0 - (1.0 - kappa_90) * np.minimum(turn / 90.0, 1.0), "-", told(_ID, "far_bend") if far else ours
    )
    omega = step("omega_fan", np.pi / 2.0 if fan_form == "round" else np.radians(fan_angle) / 2.0, "rad", "geometry")
    kappa_fan = step("kappa_fan", (np.sin(omega) - np.sin(omega) ** 3 / 3.0) / omega, "-", "mean of cos3, derived here")
    shared = {"one_way": None, "two_way": "share_two_way", "round": "share_round"}[fan_form]
    share = {"one_way": 1.0, "two_way": share_two_way, "round": share_round}[fan_form]
    return step("F_fb", A_a * f_fa * kappa_b * kappa_fan * share, "N", ours if shared is None else told(_ID, shared))
