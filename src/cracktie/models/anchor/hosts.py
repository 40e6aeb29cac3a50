"""What an anchor is drilled into, and the conditions and geometry that follow from it."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Step

HOSTS = ("web", "flange", "through_flange", "through_web")
BLIND = ("web", "flange")
"""Hosts in which the dowel ends inside the concrete."""
FAN_FORMS = ("one_way", "two_way", "round")
YES_NO = (True, False)

BLIND_END = Applies(
    lambda i: i["host"] in BLIND,
    "cone, combined and pull-out formulas cover dowels that end inside the concrete; a dowel through the flange or the "
    "web is held at its far end",
    "scope",
)
ENTERS = Applies(
    lambda i: (
        np.sin(np.radians(i["theta_b"])) > 0.25
        if i["host"] not in ("flange", "through_flange")
        else np.ones(np.shape(i["theta_b"]), bool)
    ),
    "a dowel drilled into the web must leave its face: bend angle between 15 and 165 deg (0 would lie in the face)",
    "geometry",
)
ROOM = Applies(
    lambda i: np.asarray(i["d_0"]) >= np.asarray(i["d_a"]), "the hole is at least as wide as the dowel", "geometry"
)
GEOMETRY = "geometry"
SQUARE = 0.5
"""sin(2 theta_b) up to which a hole in a flange is within 15 deg of square by one of its readings."""


def depth(step: Step, *, host: str, h_ef: Any, theta_b: Any) -> Any:
    """Depth in mm of the dowel's tip below the face it is drilled into, recorded as `h_n`.

    In the web the strip lies in the face, so the depth is h_ef sin(theta_b). In a flange the face is the soffit of the
    flange: a strip that ends at the web is normal to it (depth h_ef |cos|), one that is turned onto the soffit lies in
    it (depth h_ef |sin|); the bend angle alone does not say which. A hole more than 15 deg out of square by both
    readings takes the shallower one, the safe side. Within 15 deg of 0, 90 or 180 deg the other reading would put the
    dowel into the face itself, where no hole is drilled (the same bound as `ENTERS`), so the nearly square one stands;
    the depth jumps there.
    """
    angle = np.radians(theta_b)
    if host == "web":
        return step("h_n", h_ef * np.sin(angle), "mm", GEOMETRY)
    sine, cosine = np.abs(np.sin(angle)), np.abs(np.cos(angle))
    part = np.where(oblique(theta_b), np.minimum(sine, cosine), np.maximum(sine, cosine))
    return step("h_n", h_ef * part, "mm", GEOMETRY)


def oblique(theta_b: Any) -> Any:
    """True where a hole in a flange is drilled more than 15 deg out of square, whatever way its strip comes."""
    return np.abs(np.sin(2.0 * np.radians(theta_b))) > SQUARE
