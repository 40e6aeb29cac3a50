"""Shapes of a cross-section: outline, path of a bonded sheet, places of bars. y to the front (right), z up, mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from cracktie.draw.scene import Point

if TYPE_CHECKING:
    from cracktie.campaign.specimen import Layer, Section, Wrap

CLEAR = 20.0
"""Clear distance in mm that a layer of bars needs in the web; a closer one is spread over the flange."""


def half_width(section: Section, z: float) -> float:
    """Half the width of the concrete at height z."""
    if section.b_flange is not None and z >= section.web_top:
        return section.b_flange / 2
    if section.b_bottom is not None and z <= section.web_bottom:
        return section.b_bottom / 2
    return section.b_w / 2


def widest(section: Section) -> float:
    """Half of the greatest width."""
    return max(y for y, _ in half_outline(section))


def half_outline(section: Section) -> list[Point]:
    """Corners of the front half from the soffit to the top."""
    lower = (section.b_bottom or section.b_w) / 2
    points = [(lower, 0.0)]
    if section.b_bottom is not None:
        points += [(lower, section.web_bottom), (section.b_w / 2, section.web_bottom)]
    if section.b_flange is not None:
        points += [(section.b_w / 2, section.web_top), (section.b_flange / 2, section.web_top)]
    return _distinct([*points, (points[-1][0], float(section.h))])


def _distinct(points: list[Point]) -> list[Point]:
    """Without repeated points (a flange as wide as the web has them)."""
    return [point for i, point in enumerate(points) if i == 0 or point != points[i - 1]]


def outline(section: Section, wrap: Wrap | None) -> tuple[Point, ...]:
    """The whole outline; corners the sheet turns round have its corner radius."""
    right = half_outline(section)
    points = right + [(-y, z) for y, z in reversed(right)]
    radius = float(wrap.corner_radius or 0.0) if wrap is not None and wrap.scheme != "side" else 0.0
    round_top = wrap is not None and wrap.scheme == "full" and section.shape == "rectangular"
    return tuple(fillet(points, radius, lambda p: p[1] == 0.0 or (round_top and p[1] == section.h), closed=True))


def leg(section: Section, edges: tuple[float, float]) -> list[Point]:
    """Path of a sheet down the front face, from its upper to its lower edge, along the outline."""
    low, high = edges
    half = section.b_w / 2
    if section.b_bottom is None or low >= section.web_bottom:
        return [(half, high), (half, low)]
    wide = section.b_bottom / 2
    return _distinct([(half, high), (half, section.web_bottom), (wide, section.web_bottom), (wide, low)])


def offset_path(points: Sequence[Point], distance: float) -> list[Point]:
    """The path moved to its left by `distance`, with mitred corners."""
    normals = []
    for (ay, az), (by, bz) in zip(points, points[1:], strict=False):  # noqa: RUF007
        length = math.hypot(by - ay, bz - az)
        normals.append((-(bz - az) / length, (by - ay) / length))
    moved = []
    for i, (y, z) in enumerate(points):
        before, after = normals[max(i - 1, 0)], normals[min(i, len(normals) - 1)]
        share = distance / (1.0 + before[0] * after[0] + before[1] * after[1])
        moved.append((y + share * (before[0] + after[0]), z + share * (before[1] + after[1])))
    return moved


def fillet(points: Sequence[Point], radius: float, which: Callable[[Point], bool], closed: bool = False) -> list[Point]:
    """The path with the right-angled corners chosen by `which` rounded; short sides limit the radius."""
    if radius <= 0.0:
        return list(points)
    made: list[Point] = []
    last = len(points) - 1
    for i, corner in enumerate(points):
        if not which(corner) or (not closed and i in (0, last)):
            made.append(corner)
            continue
        before, after = points[i - 1], points[(i + 1) % len(points)]
        made += _rounded(before, corner, after, radius)
    return made


def _rounded(before: Point, corner: Point, after: Point, radius: float) -> list[Point]:
    to_before, to_after = math.dist(corner, before), math.dist(corner, after)
    r = min(radius, 0.49 * to_before, 0.49 * to_after)
    u = ((before[0] - corner[0]) / to_before, (before[1] - corner[1]) / to_before)
    v = ((after[0] - corner[0]) / to_after, (after[1] - corner[1]) / to_after)
    centre = (corner[0] + r * (u[0] + v[0]), corner[1] + r * (u[1] + v[1]))
    turns = (math.pi / 2 * i / 8 for i in range(9))
    return [
        (
            centre[0] - r * (v[0] * math.cos(t) + u[0] * math.sin(t)),
            centre[1] - r * (v[1] * math.cos(t) + u[1] * math.sin(t)),
        )
        for t in turns
    ]


def bar_places(layer: Layer, section: Section, cover: float, stirrup: float) -> list[float]:
    """y of the bars of a layer, spread evenly between the legs of the stirrup, else over the flange at that depth."""
    count, diameter = layer.bars.count, layer.bars.diameter
    half = section.b_w / 2 - cover - stirrup - diameter / 2
    if (count - 1) * (diameter + CLEAR) > 2 * half:
        half = max(half, half_width(section, section.h - layer.depth) - cover - diameter / 2)
    half = max(half, 0.0)
    if count == 1:
        return [0.0]
    return [-half + 2 * half * i / (count - 1) for i in range(count)]
