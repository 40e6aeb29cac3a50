"""From a bond model and its inputs to the law the strip kernels march with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from cracktie.clause import Keep, evaluate, get
from cracktie.errors import ModelInputError
from cracktie.mechanics import bond_law
from cracktie.mechanics.bond_law import BondLaw

DEFAULT = "bond.own_chen_teng"
"""Law of a strip unless the user names another one."""

Made = Callable[[Mapping[str, Any]], BondLaw]

_SHAPES: dict[str, tuple[tuple[str, ...], Made]] = {
    "bond.lu_2005.simplified": ((), lambda x: bond_law.lu_simplified(x["tau_max"], x["slip_0"], x["G_f"], x["res"])),
    "bond.lu_2005.precise": (
        ("slip_e",),
        lambda x: bond_law.lu_precise(x["tau_max"], x["slip_0"], x["slip_e"], x["G_f"], x["res"]),
    ),
    "bond.nakaba_2001": (("n_law",), lambda x: bond_law.popovics(x["tau_max"], x["slip_0"], x["n_law"], x["res"])),
    "bond.savoia_2003": (("n_law",), lambda x: bond_law.popovics(x["tau_max"], x["slip_0"], x["n_law"], x["res"])),
    "bond.neubauer_rostasy_1997": ((), lambda x: bond_law.brittle(x["tau_max"], x["slip_0"], x["res"])),
    "bond.dai_2005": (("B_law",), lambda x: bond_law.double_exponential(x["G_f"], x["B_law"], x["res"])),
}
"""Laws that are not bilinear: what else they need and how they are made. Any other model gives a bilinear law."""


def law_of(
    which: str,
    inputs: Mapping[str, Any],
    *,
    coefficients: Mapping[str, float] | None = None,
    tau_res: Any = 0.0,
) -> BondLaw:
    """Law of a registered bond model for numbers or arrays (cases,); `tau_res` friction after softening [MPa].

    A model that gives tau_max, slip_0 and slip_f as steps or takes them as inputs makes a bilinear law. Raises
    `ModelInputError` where the model does not apply in every case, or is no law.
    """
    extra, made = _SHAPES.get(which, (("slip_f",), _bilinear))
    keep = Keep("tau_max", "slip_0", *extra)
    result = evaluate(which, inputs, step=keep, coefficients=coefficients)
    if not np.all(result.applicable):
        condition, mask = result.reasons[0]
        raise ModelInputError(f"{which} does not apply in {int(np.sum(mask))} case(s): {condition.sentence}")
    given = {n: inputs[n] for n in ("tau_max", "slip_0", "slip_f") if n in inputs}
    values = {**given, **keep.values, "G_f": result.value, "res": tau_res}
    if "n_law" in extra:
        values["n_law"] = {**get(which).coefficients, **(coefficients or {})}["n_law"]
    lacking = [n for n in ("tau_max", "slip_0", *extra) if n not in values]
    if lacking or get(which).predicts != "G_f":
        raise ModelInputError(
            f"{which} is no bond-slip law: it gives {get(which).predicts}, not G_f with tau_max, slip_0 and slip_f; "
            "`cracktie models --topic bond` shows the laws"
        )
    return made(values)


def _bilinear(x: Mapping[str, Any]) -> BondLaw:
    return bond_law.bilinear(x["tau_max"], x["slip_0"], x["slip_f"], x["res"])
