"""Where sloping fibres, legs and anchors come to lie on the front face."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from cracktie.campaign import geometry
from cracktie.campaign.geometry import strip_positions
from cracktie.draw.scene import Point

if TYPE_CHECKING:
    from cracktie.campaign.specimen import Specimen


def lean(beta: float, key: str) -> float:
    """Travel along x of a fibre per mm of height: below 90 deg the top leans towards the support of the span, square
    to the diagonal crack, which rises from the support to the load."""
    towards_support = -1.0 if key == "A" else 1.0
    return towards_support * math.cos(math.radians(beta)) / math.sin(math.radians(beta))


def leg_corners(
    ends: tuple[float, float], edges: tuple[float, float], slope: float, middle: float
) -> tuple[Point, ...]:
    """Corners of a leg whose ends hold at height `middle`; a strip's hold at mid-height of the section."""
    (left, right), (low, high) = ends, edges
    below, above = slope * (low - middle), slope * (high - middle)
    return ((left + below, low), (right + below, low), (right + above, high), (left + above, high))


def strip_shift(specimen: Specimen, key: str, z: float | None) -> float:
    """How far the middle of a sloping strip lies from its centre at height z (0 where z is None), mm along x."""
    wrap = specimen.spans[key].wrap
    if wrap is None or z is None:
        return 0.0
    return geometry.lean(specimen, key, float(wrap.beta), float(z))


def anchor_points(specimen: Specimen, key: str) -> list[Point]:
    """Entry points (x, z) of the anchors of a span on the front face, mm; empty without strips."""
    span, section = specimen.spans[key], specimen.section
    if span.anchors is None or span.wrap is None or section is None:
        return []
    anchors, wrap = span.anchors, span.wrap
    shift = strip_shift(specimen, key, anchors.z)
    step = float(anchors.across or 0.0) / math.sin(math.radians(wrap.beta))
    offsets = [(i - (anchors.per_leg - 1) / 2) * step for i in range(anchors.per_leg)]
    return [
        (x + shift + offset, float(anchors.z))
        for i, x in enumerate(strip_positions(specimen, key), start=1)
        if anchors.strips is None or i in anchors.strips
        for offset in offsets
    ]
