"""Cook, Kunz, Fuchs and Konz 1998: uniform bond stress along an adhesive anchor."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Limit, Ref, Status, Step, model, no_step
from cracktie.models.anchor.hosts import BLIND_END, HOSTS, ROOM

SHORTEST, LONGEST = 4.5, 25.0
"""Embedments of the tests in dowel diameters, from memory, medium confidence."""


def in_range(h_ef: Any, d_a: Any) -> Any:
    """Whether embedments lie within those of the tests."""
    ratio = np.asarray(h_ef) / np.asarray(d_a)
    return (ratio >= SHORTEST) & (ratio <= LONGEST)


SHORT = Applies(
    lambda i: in_range(i["h_ef"], i["d_a"]),
    "embedment of 4.5 to 25 dowel diameters (from memory, medium confidence)",
    "range of the tests",
)


@model(
    "anchor.cook_1998",
    predicts="N_bond",
    unit="N",
    source=Ref("Cook_1998", "uniform bond model"),
    title="Cook, Kunz, Fuchs and Konz 1998, bond pull-out",
    status=Status("memory", "the form is recalled with high confidence; the bond strengths are the user's own"),
    limits=(Limit("d_a", high=50.0, why="largest anchors of the tests, from memory, medium confidence"),),
    applies=(BLIND_END, ROOM, SHORT),
    choices={"host": HOSTS},
)
def bond(*, h_ef: Any, d_a: Any, d_0: Any, tau_a: Any, tau_0: Any, host: str, step: Step = no_step) -> Any:
    """N_bond in N. `tau_a` bond strength at the dowel (on `d_a`), `tau_0` at the wall of the hole (on `d_0`); mm, MPa.

    The face with the smaller product of stress and diameter fails.
    """
    line = step("tau_d", np.minimum(tau_a * d_a, tau_0 * d_0), "N/mm", "weaker of both faces")
    return step("N_bond", line * np.pi * h_ef, "N", "uniform bond model")
