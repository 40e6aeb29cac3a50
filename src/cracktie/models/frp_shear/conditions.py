"""Conditions of use and steps shared by the FRP models."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit
from cracktie.mechanics import frp_geometry as geometry

TRUSS = "truss geometry"
"""Place named for steps that follow from geometry alone."""


def _crosses(inputs: Mapping[str, Any]) -> Any:
    return geometry.crosses_crack(beta=inputs["beta"], theta=inputs.get("theta", 45.0))


def _apart(inputs: Mapping[str, Any]) -> Any:
    if inputs["layout"] == "continuous":
        return True
    w_f, s_f, beta = inputs["w_f"], inputs["s_f"], inputs["beta"]
    chord = np.minimum(beta, 180.0 - beta) * s_f  # over 90 it lies below the sine: decides most cases without one
    doubt = np.asarray(w_f * 90.0 > chord)
    apart = np.ones(doubt.shape, dtype=bool)
    if doubt.any():
        few = [np.broadcast_to(v, doubt.shape)[doubt] for v in (w_f, s_f, beta)]
        apart[doubt] = ~geometry.overlaps(layout="strips", w_f=few[0], s_f=few[1], beta=few[2])
    return apart


CROSSES = Applies(
    _crosses,
    "a crack opening at its angle must stretch the fibres: fibre angle above 0 and, with the crack angle added "
    "(45 deg where the document has no other), below 180 deg",
    TRUSS,
)
APART = Applies(
    _apart,
    "strips must not lie over one another: width across the fibres at most spacing along the axis times the sine of "
    "the fibre angle; name a closed cover 'continuous'",
    TRUSS,
)
DEEP = Applies(
    lambda inputs: inputs["d_fv"] > 0.0,
    "the FRP must reach above the tension bars (d_fv above 0)",
    TRUSS,
)
USUAL_ANGLES = Limit("beta", 45.0, 90.0, "fibre angles of most beam tests; common practice, no source")


def only(schemes: tuple[str, ...], sentence: str, where: str = "") -> Applies:
    """Wrap schemes the document covers."""
    return Applies(lambda inputs: inputs["scheme"] in schemes, sentence, where)


def not_anchored(sentence: str, where: str = "", schemes: tuple[str, ...] = ("side", "u")) -> Applies:
    """No value for anchored ends of these schemes (a closed wrap has no ends, so the word is ignored there)."""
    return Applies(lambda inputs: not (bool(inputs["anchored"]) and inputs["scheme"] in schemes), sentence, where)


def only_test(sentence: str, where: str = "") -> Applies:
    """No value in the design form."""
    return Applies(lambda inputs: inputs["form"] == "test", sentence, where)


FIBRES = ("carbon", "glass", "aramid", "basalt", "hybrid")
"""Every fibre a specimen may have, so that a document without a rule for it says so instead of refusing the word."""
KNOWN_FIBRES = Applies(
    lambda inputs: inputs["fibre"] in ("carbon", "glass", "aramid"),
    "the document treats carbon, glass and aramid fibres only",
    "scope",
)
