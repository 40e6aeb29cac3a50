"""Elevation of a beam from its front face: concrete, bars, stirrups, bonded sheets, anchors, supports and loads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeVar

from cracktie.campaign.geometry import (
    span_limits,
    stirrup_positions,
    strip_length,
    strip_positions,
    wrap_extent,
)
from cracktie.campaign.specimen import wrap_edges
from cracktie.draw import describe
from cracktie.draw.describe import mm
from cracktie.draw.elevation_dimensions import dimensions
from cracktie.draw.gauges import draw_gauges, gauge_places
from cracktie.draw.layout import SIZE, Sheet, choose_scale
from cracktie.draw.places import anchor_points, lean, leg_corners, strip_shift
from cracktie.draw.scene import Box, Circle, Hatch, Item, Line, Point, Polygon, Scene, Text, around, extent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cracktie.campaign.instruments import Channel
    from cracktie.campaign.materials import Materials
    from cracktie.campaign.specimen import Anchors, Section, Specimen
from cracktie.campaign.testing import Setup, Test

T = TypeVar("T")
ROOM = 130.0
"""Paper mm left for the beam between the vertical dimensions."""


def elevation(
    specimen: Specimen,
    materials: Materials | None = None,
    setup: Setup | None = None,
    tests: Iterable[Test] | None = None,
    channels: Iterable[Channel] | None = None,
) -> Scene:
    """The beam seen from its front face, x from the centre of the left support, z from the soffit, mm.

    `materials` adds stirrup diameters and fibre words, `setup` the real supports and loads, `tests` the studied span,
    `channels` the gauges. Raises `OutOfScope` for a specimen of `kind: other`.
    """
    section = describe.drawable(specimen)
    body = [*_concrete(specimen, section), *_soffit(specimen), *_bars(specimen, section)]
    for key in ("A", "B"):
        body += [*_wrap(specimen, key, section), *_stirrups(specimen, key, section), *_anchors(specimen, key)]
    tested = describe.tested_spans(specimen, tests)
    gauges = gauge_places(specimen, section, channels or (), tested[0] if tested else "A")
    xs = [point[0] for _, point in gauges if point is not None]
    if setup is not None:
        xs += [float(support.x) for support in setup.supports] + [float(load.x) for load in setup.loads]
    left, _, right, _ = around([*(extent(item, 1.0) for item in body), *((x, 0.0, x, 0.0) for x in xs)])
    sheet = Sheet((left + right) / 2, choose_scale(right - left, ROOM))
    sheet.add(*body)
    sheet.avoid(_beam_box(specimen, section))
    _supports_and_loads(sheet, specimen, section, setup)
    dimensions(sheet, specimen, section, tested)
    _callouts(sheet, specimen, section, materials)
    listed = draw_gauges(sheet, gauges)
    words = describe.tested_words(tested)
    sheet.head(
        f"{specimen.name}: elevation", [f"{describe.section_words(section)}; front face; {words}", *_missing(specimen)]
    )
    sheet.columns("Parts", [text for _, _, text in _parts(specimen, section, materials)], 2)
    sheet.columns("Gauges: number, name, quantity (x, z), face", listed, 3)
    return sheet.finish(f"{specimen.name}: elevation", _description(specimen, section, materials, words))


def _beam_ends(specimen: Specimen) -> tuple[float, float]:
    return -float(specimen.overhang_left), specimen.distance_between_supports + specimen.overhang_right


def _beam_box(specimen: Specimen, section: Section) -> Box:
    left, right = _beam_ends(specimen)
    return (left, 0.0, right, float(section.h))


def _concrete(specimen: Specimen, section: Section) -> list[Item]:
    left, right = _beam_ends(specimen)
    corners = ((left, 0.0), (right, 0.0), (right, float(section.h)), (left, float(section.h)))
    items: list[Item] = [Polygon("concrete", corners, "outline", "concrete", name="beam")]
    levels = [section.web_top] if section.h_flange is not None else []
    levels += [section.web_bottom] if section.h_bottom is not None else []
    return items + [Line("concrete", (left, z), (right, z), "edge", "edge of the flange") for z in levels]


def _bars(specimen: Specimen, section: Section) -> list[Item]:
    left, right = _beam_ends(specimen)
    inset = float(section.cover or min(25.0, (right - left) / 50))
    lines: list[Item] = []
    for layer in specimen.bars:
        z = float(section.h - layer.depth)
        lines.append(Line("bars", (left + inset, z), (right - inset, z), "bar", describe.bar_label(layer)[1]))
    return lines


def _soffit(specimen: Specimen) -> list[Line]:
    if specimen.soffit is None:
        return []
    start, end = specimen.soffit.start, specimen.soffit.end
    left = 0.0 if start is None else float(start)
    right = specimen.distance_between_supports if end is None else float(end)
    return [Line("FRP", (left, 0.0), (right, 0.0), "frp cut", "sheet on the soffit")]


def _stirrups(specimen: Specimen, key: str, section: Section) -> list[Item]:
    stirrups = specimen.spans[key].stirrups
    if stirrups is None:
        return []
    cover = float(section.cover if section.cover is not None else min(25.0, section.h / 10))
    low, high, slope = cover, section.h - cover, lean(stirrups.angle, key)
    middle = section.h / 2
    return [
        Line(
            "stirrups",
            (x + slope * (low - middle), low),
            (x + slope * (high - middle), high),
            "stirrup",
            f"stirrup {key}{i}, x = {mm(x)} mm",
        )
        for i, x in enumerate(stirrup_positions(specimen, key), start=1)
    ]


def _wrap(specimen: Specimen, key: str, section: Section) -> list[Item]:
    wrap = specimen.spans[key].wrap
    ends = wrap_extent(specimen, key)
    if wrap is None or ends is None:
        return []
    front, back = wrap_edges(wrap, section, "front"), wrap_edges(wrap, section, "back")
    slope = lean(wrap.beta, key)
    fibres = math.degrees(math.atan2(1.0, slope))
    items: list[Item] = []
    if wrap.layout == "continuous":
        shape = leg_corners(ends, front, 0.0, sum(front) / 2)
        items.append(Polygon("FRP", shape, "frp", "frp", Hatch(fibres, 2.6, "fibre"), f"sheet {key}, front face"))
        if back != front:
            items.append(Polygon("FRP", leg_corners(ends, back, 0.0, 0.0), "hidden", name=f"sheet {key}, back face"))
        return items
    half, middle = strip_length(wrap) / 2, section.h / 2
    for i, x in enumerate(strip_positions(specimen, key), start=1):
        name = f"strip {key}{i}, centre x = {mm(x)} mm"
        shape = leg_corners((x - half, x + half), front, slope, middle)
        items.append(Polygon("FRP", shape, "frp", "frp", Hatch(fibres, 1.1, "fibre"), name))
        if back != front:
            hidden = leg_corners((x - half, x + half), back, slope, middle)
            items.append(Polygon("FRP", hidden, "hidden", name=f"{name}, back face"))
    return items


def _anchors(specimen: Specimen, key: str) -> list[Item]:
    span, section = specimen.spans[key], specimen.section
    if span.anchors is None or span.wrap is None or section is None:
        return []
    low, high = wrap_edges(span.wrap, section)
    slope = lean(span.wrap.beta, key)
    up = math.degrees(math.atan2(1.0, slope))
    inward = up + 180.0 if span.anchors.z >= (low + high) / 2 else up
    items: list[Item] = []
    for i, point in enumerate(anchor_points(specimen, key), start=1):
        name = f"anchor {key}{i}, x = {mm(point[0])} mm, z = {mm(point[1])} mm"
        items += _fan(span.anchors, point, inward, name)
        items.append(Circle("anchors", point, span.anchors.dowel_diameter / 2, "anchor", "anchor", name))
    return items


def _fan(anchors: Anchors, point: Point, inward: float, name: str) -> list[Item]:
    length, half = float(anchors.fan.length), anchors.fan.angle / 2
    if anchors.fan.form == "round":
        return [Circle("anchors", point, length, "fan", name=f"{name}, fan")]
    items: list[Item] = []
    for middle in (inward, inward + 180.0) if anchors.fan.form == "two_way" else (inward,):
        rim = [_polar(point, length, middle + half * t) for t in (-1.0, -0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75, 1.0)]
        items.append(Polygon("anchors", (point, *rim), "fan", name=f"{name}, fan"))
        items += [Line("anchors", point, rim[i], "fan") for i in (2, 4, 6)]
    return items


def _polar(centre: Point, radius: float, angle: float) -> Point:
    turn = math.radians(angle)
    return centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)


def _supports_and_loads(sheet: Sheet, specimen: Specimen, section: Section, setup: Setup | None) -> None:
    n = sheet.scale
    if setup is None:
        supports = [(0.0, "pin", None), (specimen.distance_between_supports, "roller", None)]
        xs = sorted({span_limits(specimen, "A")[1], span_limits(specimen, "B")[1]})
        loads = [(x, None, "P" if len(xs) == 1 else "P/2") for x in xs]
    else:
        supports = [(float(s.x), s.kind, s.plate) for s in setup.supports]
        loads = [(float(p.x), p.plate, _share(p.share, len(setup.loads))) for p in setup.loads]
    for x, kind, plate in supports:
        sheet.avoid_items(*_support(x, kind, plate, n))
    for x, plate, words in loads:
        sheet.avoid_items(*_load(x, float(section.h), plate, n))
        level = section.h + 6.2 * n
        places = [(x + 1.4 * n, "start"), (x - 1.4 * n, "end")]
        sheet.write(Text("supports", (at, level), words, SIZE, align) for at, align in places)


def _share(share: float | None, count: int) -> str:
    if share is None:
        return "P" if count == 1 else "P/2"
    return "P" if share == 1.0 else "P/2" if share == 0.5 else f"{share:.3g} P"


def _support(x: float, kind: str, plate: float | None, n: float) -> list[Item]:
    top = -0.9 * n
    half = (plate or 3.0 * n) / 2
    items: list[Item] = [Polygon("supports", _bar(x - half, top, x + half, 0.0), None, "slate", name="bearing plate")]
    if kind == "pin":
        corners = ((x, top), (x + 1.7 * n, top - 2.8 * n), (x - 1.7 * n, top - 2.8 * n))
        items.append(Polygon("supports", corners, "support", "paper", name="pinned support"))
    else:
        items.append(Circle("supports", (x, top - 1.4 * n), 1.4 * n, "support", "paper", "roller support"))
    foot = top - 2.8 * n
    return [*items, Line("supports", (x - 2.8 * n, foot), (x + 2.8 * n, foot), "support")]


def _load(x: float, top: float, plate: float | None, n: float) -> list[Item]:
    half = (plate or 3.0 * n) / 2
    tip = top + 0.9 * n
    head = ((x, tip), (x + 0.9 * n, tip + 2.6 * n), (x - 0.9 * n, tip + 2.6 * n))
    return [
        Polygon("supports", _bar(x - half, top, x + half, tip), None, "slate", name="load plate"),
        Line("supports", (x, tip + 2.4 * n), (x, tip + 8.0 * n), "load", "load"),
        Polygon("supports", head, None, "ink"),
    ]


def _bar(left: float, low: float, right: float, high: float) -> tuple[Point, ...]:
    return ((left, low), (right, low), (right, high), (left, high))


def _callouts(sheet: Sheet, specimen: Specimen, section: Section, materials: Materials | None) -> None:
    above, below = section.h + 12.0 * sheet.scale, -2.4 * sheet.scale
    for target, label, text in _parts(specimen, section, materials):
        low = label == "soffit sheet" or ("bar" in label and target[1] < section.h / 2)
        sheet.callout(target, label, below if low else above, below=low, name=text)


def _parts(specimen: Specimen, section: Section, materials: Materials | None) -> list[tuple[Point, str, str]]:
    """What is pointed at, its short label, and all that is said of it; equal parts of both spans are said once."""
    found: list[tuple[str, Point, str, str]] = []
    for key in ("A", "B"):
        span = specimen.spans[key]
        if span.wrap is not None:
            label = "sheet" if span.wrap.layout == "continuous" else "strips"
            words = describe.wrap_words(span.wrap, materials)
            found.append((key, _wrap_target(specimen, key, section), label, words))
        points = anchor_points(specimen, key)
        if span.anchors is not None and points:
            found.append((key, _pick(points, key, 0.75), "anchors", describe.anchor_words(span.anchors)))
        lines = [item for item in _stirrups(specimen, key, section) if isinstance(item, Line)]
        if span.stirrups is not None and lines:
            line = _pick(lines, key, 0.45)
            at = (0.15 * line.a[0] + 0.85 * line.b[0], 0.15 * line.a[1] + 0.85 * line.b[1])
            found.append((key, at, "stirrups", describe.stirrup_words(span.stirrups, materials)))
    wording = [words for *_, words in found]
    parts: list[tuple[Point, str, str]] = []
    for key, target, label, words in found:
        both = wording.count(words) == 2
        if not both or key == "A":
            spans = "A and B" if both else key
            parts.append((target, f"{label} {spans}", f"{label} {spans}: {words}"))
    for line in _soffit(specimen):
        if specimen.soffit is not None:
            at = (line.a[0] + 0.7 * (line.b[0] - line.a[0]), 0.0)
            parts.append((at, "soffit sheet", f"soffit sheet: {describe.soffit_words(specimen.soffit)}"))
    for i, layer in enumerate(specimen.bars):
        parts.append((_bar_target(specimen, section, i), *describe.bar_label(layer)))
    return parts


def _bar_target(specimen: Specimen, section: Section, index: int) -> Point:
    """A point of a layer near the middle of the beam, each layer at its own x."""
    x_a, x_b = span_limits(specimen, "A")[1], span_limits(specimen, "B")[1]
    room = max(x_b - x_a, 0.12 * specimen.distance_between_supports)
    shift = room * (0.25, -0.25, 0.1, -0.1)[index % 4]
    return ((x_a + x_b) / 2 + shift, float(section.h - specimen.bars[index].depth))


def _pick(things: Sequence[T], key: str, share: float) -> T:
    """The thing at a share of the way from the support to the load."""
    index = min(int(share * len(things)), len(things) - 1)
    return things[index if key == "A" else len(things) - 1 - index]


def _wrap_target(specimen: Specimen, key: str, section: Section) -> Point:
    wrap = specimen.spans[key].wrap
    ends = wrap_extent(specimen, key)
    if wrap is None or ends is None:
        return (sum(span_limits(specimen, key)) / 2, section.h / 2)
    low, high = wrap_edges(wrap, section)
    z = low + 0.8 * (high - low)
    if wrap.layout == "continuous":
        return (ends[0] + (0.25 if key == "A" else 0.75) * (ends[1] - ends[0]), z)
    return (_pick(strip_positions(specimen, key), key, 0.2) + strip_shift(specimen, key, z), z)


def _missing(specimen: Specimen) -> list[str]:
    """What the description of the specimen does not say and the drawing therefore leaves out."""
    return [
        f"span {key}: the places of the anchors along the continuous sheet are not described and not drawn"
        for key in ("A", "B")
        if specimen.spans[key].anchors is not None and not anchor_points(specimen, key)
    ]


def _description(specimen: Specimen, section: Section, materials: Materials | None, tested: str) -> str:
    """The drawing in sentences, for readers who do not see it."""
    parts = [f"Elevation of beam {specimen.name} from the front face", describe.section_words(section), tested]
    parts += [f"span {key}: {mm(specimen.spans[key].length)} mm" for key in ("A", "B")]
    parts += [text for _, _, text in _parts(specimen, section, materials)]
    return "; ".join(parts) + "."
