"""What follows from the written sizes of the anchors of a span, shown and never typed: ratios and clear distances."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from cracktie.anchorage.inputs import anchor_places, edge_distance, fibre_area, fibre_values
from cracktie.campaign.geometry import lean, stirrup_positions
from cracktie.campaign.holes import between_faces
from cracktie.campaign.materials import Materials
from cracktie.campaign.specimen import Anchors, Section, Specimen, Wrap, wrap_edges
from cracktie.mechanics.anchor import area_ratio
from cracktie.member import MissingValue


@dataclass(frozen=True)
class AnchorGeometry:
    """Derived sizes of the anchors of one span; None where they have no meaning or a value is missing (`missing`).

    mm and ratios: `amr` fibre of the anchors over that of the leg (by strength), `hole_ratio` d_0/d_a, `area_hole` hole
    over dowel area, `tips` clear distance between opposite holes, `stirrup` and `bar` clear distance of the holes to
    the nearest stirrup and longitudinal bar, `edge` from the hole's axis, `spacing` least distance of neighbours,
    `width` of strip for each anchor, `fan_width` at its end, `covered` share of `width` under the fan, `below_fan`
    length of the bonded leg below the hole, `beyond` concrete between the tip and the far face.
    """

    amr: float | None
    hole_ratio: float
    area_hole: float
    tips: float | None
    stirrup: float | None
    bar: float | None
    edge: float | None
    spacing: float | None
    width: float | None
    fan_width: float
    covered: float | None
    below_fan: float
    beyond: float | None
    missing: tuple[str, ...] = ()


def anchor_geometry(specimen: Specimen, span: str, materials: Materials | None = None) -> AnchorGeometry:
    """Derived sizes of the anchors of a span; without `materials` the AMR stays open unless the fibre area is written.

    Raises `MissingValue` where the span has no anchors.
    """
    held, section = specimen.spans.get(span), specimen.section
    if held is None or held.anchors is None or held.wrap is None or section is None:
        raise MissingValue(f"specimens.yaml: {specimen.id}, span {span}: no anchors")
    anchors, wrap = held.anchors, held.wrap
    missing: list[str] = []
    places = anchor_places(specimen, span)
    width = None if wrap.width is None else float(wrap.width) / anchors.per_leg
    fan = _fan_width(anchors)
    gaps = np.diff(places)
    return AnchorGeometry(
        amr=_amr(anchors, wrap, materials, missing),
        hole_ratio=float(anchors.hole_diameter) / float(anchors.dowel_diameter),
        area_hole=(float(anchors.hole_diameter) / float(anchors.dowel_diameter)) ** 2,
        tips=between_faces(anchors, wrap, section, span),
        stirrup=_stirrups(specimen, span, anchors, places, materials, missing),
        bar=_bars(specimen, section, anchors, wrap),
        edge=_edge(specimen, span, missing),
        spacing=float(np.min(gaps)) if len(gaps) else None,
        width=width,
        fan_width=fan,
        covered=None if width is None else min(fan / width, 1.0),
        below_fan=_below(anchors, wrap, section),
        beyond=_beyond(anchors, section),
        missing=tuple(missing),
    )


def _amr(anchors: Anchors, wrap: Wrap, materials: Materials | None, missing: list[str]) -> float | None:
    if materials is None or wrap.width is None:
        missing.append("AMR: needs materials.yaml and strips")
        return None
    try:
        _, f_fa, _ = fibre_values(anchors, materials, "measured")
        system = materials.frp_systems[wrap.system]
        _, sheet = system.values("mean", "guaranteed", "characteristic")
        area = wrap.plies * float(system.thickness) * float(wrap.width)
        A_a = fibre_area(anchors, materials)
    except (MissingValue, ValueError, KeyError) as error:
        missing.append(f"AMR: {error}")
        return None
    return float(area_ratio(count=anchors.per_leg, A_a=A_a, f_fa=f_fa, area=area, f_fu=sheet["f_fu"]))


def _stirrups(
    specimen: Specimen,
    span: str,
    anchors: Anchors,
    places: Iterable[float],
    materials: Materials | None,
    missing: list[str],
) -> float | None:
    stirrups = specimen.spans[span].stirrups
    if stirrups is None or anchors.host not in ("web", "through_web"):
        return None
    diameter = stirrups.diameter
    if diameter is None and materials is not None and stirrups.material in materials.bars:
        bar = materials.bars[stirrups.material]
        diameter = None if bar.diameter is None else bar.diameter.diameter
    if diameter is None:
        missing.append(f"stirrups: no diameter of {stirrups.material}; taken as 0 mm")
    row = [x + lean(specimen, span, float(stirrups.angle), float(anchors.z)) for x in stirrup_positions(specimen, span)]
    axes = [abs(x - bar) for x in places for bar in row]
    if not axes:
        return None
    return (
        min(axes) * math.sin(math.radians(float(stirrups.angle)))
        - (float(anchors.hole_diameter) + float(diameter or 0.0)) / 2
    )


def _bars(specimen: Specimen, section: Section, anchors: Anchors, wrap: Wrap) -> float | None:
    """Clear distance in height to the nearest layer of bars, each layer taken to fill the width of the web."""
    if anchors.host not in ("web", "through_web") or not specimen.bars:
        return None
    rise = float(anchors.embedment) * math.cos(math.radians(float(anchors.bend_angle)))
    rise *= math.sin(math.radians(float(wrap.beta) + float(anchors.azimuth)))
    clear = []
    for entry in {float(anchors.z), float(anchors.back_z if anchors.back_z is not None else anchors.z)}:
        low, high = sorted((entry, entry + rise))
        for layer in specimen.bars:
            z = float(section.h) - float(layer.depth)
            away = max(low - z, z - high, 0.0)
            clear.append(away - (float(anchors.hole_diameter) + layer.bars.diameter) / 2.0)
    return min(clear)


def _edge(specimen: Specimen, span: str, missing: list[str]) -> float | None:
    try:
        return edge_distance(specimen, span)
    except MissingValue as error:
        missing.append(f"edge: {error}")
        return None


def _fan_width(anchors: Anchors) -> float:
    """Width of the fan at its end, mm: 2 l tan(half the full opening angle), or the diameter of a round fan."""
    length = float(anchors.fan.length)
    if anchors.fan.form == "round" or float(anchors.fan.angle) >= 180.0:
        return 2.0 * length
    return 2.0 * length * math.tan(math.radians(float(anchors.fan.angle)) / 2.0)


def _below(anchors: Anchors, wrap: Wrap, section: Section) -> float:
    """Length along the fibre of the bonded leg from the hole down to the lower edge, the shorter of both faces, mm."""
    lengths = []
    for face in ("front", "back"):
        z = float(anchors.back_z) if face == "back" and anchors.back_z is not None else float(anchors.z)
        lengths.append((z - wrap_edges(wrap, section, face)[0]) / math.sin(math.radians(float(wrap.beta))))
    return min(lengths)


def _beyond(anchors: Anchors, section: Section) -> float | None:
    """Concrete in mm between the tip and the far face: the other web face, or the top of the flange."""
    bend = math.radians(float(anchors.bend_angle))
    if anchors.host == "web":
        return float(section.b_w) - float(anchors.embedment) * math.sin(bend)
    if anchors.host == "flange" and section.h_flange is not None:
        return float(section.h_flange) - float(anchors.embedment) * max(abs(math.sin(bend)), abs(math.cos(bend)))
    return None
