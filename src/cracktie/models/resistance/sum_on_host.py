"""Research FRP term on a host code: V_c + V_s of the host plus the FRP term; the pairing is ours."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step
from cracktie.models.resistance import governing


@model(
    "resistance.sum_on_host",
    predicts="V_R",
    unit="N",
    source=Ref("CRACKTIE", "pairing of a research FRP term with a host code"),
    title="Host code plus research FRP term (host chosen by us)",
    status=Status("own", "the sum is ours; the source gives V_f only and is judged on V_f first"),
    governs=governing.tension,
    revision=2,
)
def v_r(*, V_c: Any, V_s: Any, V_f: Any, phi_host: Any, form: str, step: Step = no_step) -> Any:
    """V_R in N; `V_c`, `V_s`, `V_f` N; numbers or arrays of one shape.

    `phi_host` is the resistance factor of the host, 1 where its factors sit in its terms; design only. The source's
    own factor on V_f is inside `V_f` in the design form.
    """
    if form == "design":
        return step("V_R", phi_host * (V_c + V_s) + V_f, "N", "own: phi of the host on its terms")
    return step("V_R", V_c + V_s + V_f, "N", "own: sum, all factors 1")
