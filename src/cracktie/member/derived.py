"""Inputs that follow from others: strengths by a document's own relation, factors of the surroundings, plates."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Setup, Test
from cracktie.clause import evaluate
from cracktie.models.frp_shear.aci440 import ENVIRONMENT

Values = Mapping[str, Any]
Rule = Callable[[Values], Any]

D_G_ASSUMED = 16.0
"""mm, where the batch does not state its aggregate; common practice, no source."""

_TABLE = "EN 1992-1-1:2004 Table 3.1"


def strengths(form: str) -> dict[str, tuple[Rule, str]]:
    """Mean and tensile strengths from `f_c`, each with its rule and source.

    In the test form `f_c` is the mean strength, in the design form the characteristic one; the two differ by 8 MPa.
    """

    def by_model(id: str) -> Rule:
        return lambda values: evaluate(id, {"f_c": values["f_c"], "form": form}).value

    start = "f_ck = f_c - 8 MPa" if form == "test" else "f_ck = f_c"
    mean: Rule = (lambda values: values["f_c"]) if form == "test" else (lambda values: values["f_c"] + 8.0)
    return {
        "f_cm": (mean, "f_c, a mean strength" if form == "test" else f"{_TABLE}: f_c + 8 MPa"),
        "f_ctm": (by_model("material.ec2_2004.f_ctm"), f"{_TABLE}, from {start}"),
        "f_ctk": (by_model("material.ec2_2004.f_ctk"), f"{_TABLE}, 5 % value, from {start}"),
    }


def surroundings(campaign: Campaign, fibre: str, form: str) -> tuple[dict[str, tuple[float, str]], dict[str, str]]:
    """Factors of the design form (C_E, eta_a, FC) with their sources, and sentences for those that are missing.

    The table of CNR-DT 200 for eta_a holds the same numbers as that of ACI 440.2R for C_E (from memory).
    """
    if form != "design":
        unused = "not used in the test form"
        return dict.fromkeys(("C_E", "eta_a", "FC"), (1.0, unused)), {}
    found: dict[str, tuple[float, str]] = {}
    missing: dict[str, str] = {}
    exposure, factor = campaign.head.exposure, campaign.head.confidence_factor
    if exposure is None:
        said = "campaign.yaml has no exposure; write for example 'exposure: exterior' (interior, exterior, aggressive)"
        missing |= {"C_E": said, "eta_a": said}
    elif (fibre, exposure) not in ENVIRONMENT:
        said = f"the table of environmental factors has no {fibre} fibre"
        missing |= {"C_E": said, "eta_a": said}
    else:
        value = ENVIRONMENT[(fibre, exposure)]
        found["C_E"] = (value, f"ACI 440.2R-17 Table 9.4, {fibre}, {exposure}")
        found["eta_a"] = (value, f"CNR-DT 200 R1/2013, {fibre}, {exposure} (the numbers of ACI 440.2R; from memory)")
    if factor is None:
        missing["FC"] = (
            "campaign.yaml has no confidence_factor; write 'confidence_factor: 1.35' (1.00, 1.20 or 1.35 by how well "
            "the structure is known)"
        )
    else:
        found["FC"] = (float(factor), "campaign.yaml, confidence_factor")
    return found, missing


def rig_of(campaign: Campaign, test: Test | None) -> Setup | None:
    """The named setup of a test, turned end for end where the test is mirrored; None where none is known."""
    if test is None:
        return None
    setups = campaign.rig.setups
    found = setups.get(test.setup) if test.setup is not None else None
    if test.setup is None and len(setups) == 1:
        found = next(iter(setups.values()))
    return None if found is None else (turned(found) if test.mirrored else found)


def turned(setup: Setup) -> Setup:
    """The same rig with the beam end for end."""
    from cracktie.units import Quantity

    left, right = (float(s.x) for s in setup.supports)
    turn = left + right
    supports = tuple(s.model_copy(update={"x": Quantity(turn - s.x)}) for s in reversed(setup.supports))
    loads = tuple(load.model_copy(update={"x": Quantity(turn - load.x)}) for load in reversed(setup.loads))
    return setup.model_copy(update={"supports": supports, "loads": loads})


def plates(setup: Setup | None, span: str) -> dict[str, tuple[float, str]]:
    """Clear shear span and plate lengths (mm) where the rig states both plates of the span."""
    if setup is None:
        return {}
    support = setup.supports[0 if span == "A" else 1]
    loads = sorted(setup.loads, key=lambda load: load.x)
    load = loads[0 if span == "A" else -1]
    if support.plate is None or load.plate is None:
        return {}
    low, high = float(support.plate), float(load.plate)
    clear = abs(float(load.x) - float(support.x)) - 0.5 * (low + high)
    left, right = (float(s.x) for s in setup.supports)
    share = 1.0
    if len(loads) == 1:
        share = (right - load.x) / (right - left) if span == "A" else (load.x - left) / (right - left)
    return {
        "a_clear": (clear, "rig.yaml, from plate edge to plate edge"),
        "l_support": (low, "rig.yaml"),
        "l_load": (high * float(share), "rig.yaml, the part of the plate that serves this span"),
    }
