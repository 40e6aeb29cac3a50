"""Gauges on the elevation: a numbered mark at each place, and the list that explains the numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from cracktie.campaign.geometry import lean, numbered, span_limits, stirrup_positions, strip_positions
from cracktie.draw.describe import mm
from cracktie.draw.layout import SMALL, Sheet
from cracktie.draw.places import strip_shift
from cracktie.draw.scene import Circle, Line, Point, Polygon, Text

if TYPE_CHECKING:
    from cracktie.campaign.instruments import Channel
    from cracktie.campaign.specimen import Section, Specimen

OFF_THE_BEAM = ("load", "temperature", "time", "time mark", "reaction")
"""Quantities that have no place on the beam's face."""


def gauge_places(
    specimen: Specimen, section: Section, channels: Iterable[Channel], key: str
) -> list[tuple[Channel, Point | None]]:
    """Channels that belong to the beam with their place (x, z), None where none is given.

    Strips and stirrups of a channel are counted in span `key`.
    """
    kept = [channel for channel in channels if channel.quantity not in OFF_THE_BEAM]
    return [(channel, _place(specimen, section, channel, key)) for channel in kept]


def draw_gauges(sheet: Sheet, places: Iterable[tuple[Channel, Point | None]]) -> list[str]:
    """Mark every channel that has a place; the list says for each number what it is, and which have no place."""
    listed: list[str] = []
    without: list[str] = []
    for channel, point in places:
        if point is None:
            without.append(channel.name)
            continue
        number = len(listed) + 1
        face = f", {channel.face}" if channel.face else ""
        listed.append(f"{number} {channel.name}: {channel.quantity} ({mm(point[0])}, {mm(point[1])}){face}")
        _mark(sheet, point, channel, number)
    if without:
        listed.append("not drawn, no place given: " + ", ".join(without))
    return listed


def _place(specimen: Specimen, section: Section, channel: Channel, key: str) -> Point | None:
    x = _along(specimen, channel, key)
    if x is None:
        return None
    if channel.z is not None:
        return (x, float(channel.z))
    return (x, float(section.h)) if channel.face == "top" else (x, 0.0) if channel.x is not None or channel.at else None


def _along(specimen: Specimen, channel: Channel, key: str) -> float | None:
    if channel.x is not None:
        return float(channel.x)
    if channel.strip is not None:
        x = numbered(strip_positions(specimen, key)).get(channel.strip)
        return None if x is None else x + strip_shift(specimen, key, channel.z)
    if channel.stirrup is not None:
        x, stirrups = numbered(stirrup_positions(specimen, key)).get(channel.stirrup), specimen.spans[key].stirrups
        if x is None or stirrups is None or channel.z is None:
            return x
        return x + lean(specimen, key, float(stirrups.angle), float(channel.z))
    total = specimen.distance_between_supports
    places = {"left support": 0.0, "right support": total, "midspan": total / 2, "load": span_limits(specimen, key)[1]}
    return places.get(channel.at or "")


def _mark(sheet: Sheet, point: Point, channel: Channel, number: int) -> None:
    """Strain: a bar in the measured direction; displacement: a triangle; all else: an open ring."""
    n, (x, z) = sheet.scale, point
    name = f"{number} {channel.name}"
    if "strain" in channel.quantity:
        turn = math.radians(90.0 if channel.direction is None else channel.direction)
        dx, dz = 1.1 * n * math.cos(turn), 1.1 * n * math.sin(turn)
        sheet.add(Line("gauges", (x - dx, z - dz), (x + dx, z + dz), "gauge", name))
    elif "displacement" in channel.quantity:
        corners = ((x, z), (x + 0.8 * n, z - 1.5 * n), (x - 0.8 * n, z - 1.5 * n))
        sheet.add(Polygon("gauges", corners, "edge", "paper", name=name))
    else:
        sheet.add(Circle("gauges", point, 0.8 * n, "edge", "paper", name))
    level = z - (0.3 * SMALL + (0.9 if "displacement" in channel.quantity else 0.0)) * n
    reach = [(1.2 * n, 0.0, "start"), (-1.2 * n, 0.0, "end")]
    reach += [(0.0, side * step * n, "middle") for step in (2.6, 4.0, 5.4) for side in (1.0, -1.0)]
    reach += [(side * step * n, 0.0, "start" if side > 0 else "end") for step in (3.0, 5.0) for side in (1.0, -1.0)]
    places = [Text("gauges", (x + dx, level + dz), str(number), SMALL, align) for dx, dz, align in reach]
    sheet.write(places, on_object=True)
