"""Research FRP term on a host code: V_c + V_s of the host plus the FRP term; the pairing is ours."""

from __future__ import annotations

from typing import Any

from cracktie.clause import Ref, Status, Step, model, no_step


@model(
    "resistance.sum_on_host",
    predicts="V_R",
    unit="N",
    source=Ref("CRACKTIE", "pairing of a research FRP term with a host code"),
    title="Host code plus research FRP term (host chosen by us)",
    status=Status("own", "the sum is ours; the source gives V_f only and is judged on V_f first"),
)
def v_r(*, V_c: Any, V_s: Any, V_f: Any, form: str, phi: float = 0.75, step: Step = no_step) -> Any:
    """V_R in N; `V_c`, `V_s`, `V_f` N; numbers or arrays of one shape. `phi` is the host's factor, design only.

    The source's own factor on V_f (1.25) is inside `V_f` in the design form.
    """
    if form == "design":
        return step("V_R", phi * (V_c + V_s) + V_f, "N", "own: phi of the host on its terms")
    return step("V_R", V_c + V_s + V_f, "N", "own: sum, all factors 1")
