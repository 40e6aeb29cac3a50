"""Holes of spike anchors inside the web: their axes, and the concrete left between those of both faces."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.mechanics.anchor import holes_apart

if TYPE_CHECKING:
    from cracktie.campaign.specimen import Anchors, Section, Wrap


def dowel_ends(anchors: Anchors, wrap: Wrap, section: Section, span: str, face: str) -> tuple[Any, Any]:
    """Entry and tip of a dowel on a face as (x, y, z) in mm, x from the strip; web hosts only.

    The dowel leaves the direction of the fibre towards the free end (upwards), turned in the face by the azimuth, by
    the bend angle into the web.
    """
    side = 1.0 if face == "front" else -1.0
    z = float(anchors.back_z) if face == "back" and anchors.back_z is not None else float(anchors.z)
    beta = math.radians(float(wrap.beta)) + math.radians(float(anchors.azimuth))
    lean_x = math.cos(beta) * (-1.0 if span == "A" else 1.0)
    bend = math.radians(float(anchors.bend_angle))
    way = np.array([lean_x * math.cos(bend), -side * math.sin(bend), math.sin(beta) * math.cos(bend)])
    entry = np.array([0.0, side * float(section.b_w) / 2.0, z])
    return entry, entry + float(anchors.embedment) * way


def between_faces(anchors: Anchors, wrap: Wrap, section: Section, span: str) -> float | None:
    """Concrete in mm between the holes drilled from both faces at one strip; negative where they meet.

    None where the dowels do not end inside the web.
    """
    if anchors.host != "web":
        return None
    front = dowel_ends(anchors, wrap, section, span, "front")
    back = dowel_ends(anchors, wrap, section, span, "back")
    return holes_apart(*front, *back, float(anchors.hole_diameter))
